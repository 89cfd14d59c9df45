// The page of a blind test: set the volume, practise, answer, read the result.
(() => {
  const set = JSON.parse(document.getElementById("data").textContent);
  const at = (id) => document.getElementById(id);
  const NAMES = ["A", "B", "X"], SOON = 0.02, CHECK = 4; // s
  let context = null, master = null, deck = null, checking = null, loaded = null;
  let session = null; // { code, count, trials, answers, started, practice }
  let now = null; // { heard, began, switches, on }

  const loudness = () => Number(at("volume").value) ** 2; // even steps to the ear, nearly
  const tell = (text) => { at("told").textContent = text; };
  const percent = (share) => `${(100 * share).toFixed(0)} %`;

  function add(parent, name, text, attributes = {}) {
    const made = document.createElement(name);
    for (const [key, value] of Object.entries(attributes)) made.setAttribute(key, value);
    if (text !== undefined) made.textContent = text;
    parent.append(made);
    return made;
  }

  function show(id) {
    for (const part of ["setup", "trial", "result", "room"]) at(part).hidden = part !== id;
    document.body.dataset.part = id;
    const head = at(id).querySelector("h2");
    head.tabIndex = -1;
    head.focus();
  }

  // ---- sound

  function bytes(text) {
    const raw = atob(text), made = new Uint8Array(raw.length);
    for (let i = 0; i < raw.length; i++) made[i] = raw.charCodeAt(i);
    return made.buffer;
  }

  /** The sounds as buffers, made at the first touch as browsers demand. */
  async function ready() {
    if (!context) {
      try { context = new AudioContext({ sampleRate: set.rate_hz }); } catch { context = new AudioContext(); }
      master = context.createGain();
      master.gain.value = loudness();
      master.connect(context.destination);
    }
    if (context.state !== "running") await context.resume();
    loaded ??= Promise.all(set.sounds.map((s) => context.decodeAudioData(bytes(s.flac))));
    return loaded;
  }

  function silence() {
    if (deck) deck.stop(context.currentTime + SOON);
    if (checking) { checking.source.stop(); checking = null; }
    deck = null;
  }

  /** The first sound, growing from nearly nothing to the level of the test. */
  async function check() {
    silence();
    const [buffer] = await ready(), source = context.createBufferSource(), gain = context.createGain();
    const start = context.currentTime + SOON;
    Object.assign(source, { buffer, loop: true });
    gain.gain.setValueAtTime(0.01, start);
    gain.gain.exponentialRampToValueAtTime(1, start + CHECK);
    gain.gain.setValueAtTime(1, start + CHECK + 1);
    gain.gain.linearRampToValueAtTime(0, start + CHECK + 1.05);
    source.connect(gain).connect(master);
    source.start(start);
    source.stop(start + CHECK + 1.1);
    checking = { source };
    source.onended = () => { if (checking?.source === source) checking = null; };
    at("check").dataset.done = "yes";
    tell("It grows for four seconds up to the level of the test. Turn it down if it is too loud.");
  }

  async function hear(number) {
    if (!now) return;
    const mine = now, buffers = await ready();
    if (mine !== now) return; // answered meanwhile
    const trial = session.trials[session.answers.length], time = context.currentTime + SOON;
    deck ??= new Deck(context, master, [trial.a, trial.b, trial.x ? trial.b : trial.a].map((n) => buffers[n]), time);
    deck.hear(number, time);
    now.heard.add(number);
    now.switches += now.on !== number ? 1 : 0;
    now.on = number;
    marks();
  }

  function stop() {
    silence();
    if (now) now.on = null;
    marks();
  }

  function marks() {
    NAMES.forEach((name, i) => at(`hear${name}`).setAttribute("aria-pressed", String(now?.on === i)));
  }

  // ---- trials

  function begin(practice) {
    const code = at("code").value.trim().normalize("NFC"), count = Number(at("count").value);
    if (!at("check").dataset.done) { tell("First set the volume."); at("check").focus(); return; }
    if (!practice && !/^[\p{L}\p{N}_-]{1,20}$/u.test(code)) {
      tell("Write a listener code of 1 to 20 letters or digits."); at("code").focus(); return;
    }
    if (!practice && !(Number.isInteger(count) && count >= 10 && count <= 50)) {
      tell("Choose 10 to 50 trials."); at("count").focus(); return;
    }
    silence();
    tell("");
    const trials = practice
      ? trialsOf(set.sounds.length, 10, set.seed, `practice ${Math.random()}`).filter((t) => !t.catch)
      : trialsOf(set.sounds.length, count, set.seed, code);
    session = { code, count, trials, answers: [], practice, started: new Date().toISOString(), right: 0 };
    ready().catch(() => tell("The sounds cannot be decoded by this browser."));
    next();
  }

  function next() {
    stop();
    const number = session.answers.length;
    if (number === session.trials.length) { now = null; return session.practice ? leave() : finish(); }
    now = { heard: new Set(), began: performance.now(), switches: 0, on: null };
    at("which").textContent = `${session.practice ? "Practice" : "Trial"} ${number + 1} of ${session.trials.length}`;
    at("leave").hidden = !session.practice;
    show("trial");
  }

  function answer(choice) {
    if (!now) return;
    if (now.heard.size < 3) { tell("Listen to A, B and X first."); return; }
    const trial = session.trials[session.answers.length];
    session.answers.push({ answer: choice, ms: Math.round(performance.now() - now.began), switches: now.switches });
    if (session.practice) {
      const right = choice === trial.x;
      session.right += right ? 1 : 0;
      tell(`${right ? "Right" : "Not so"}: X was ${NAMES[trial.x]}. So far ${session.right} of ${session.answers.length}.`);
    } else tell("Noted.");
    next();
  }

  function leave() {
    stop();
    now = null;
    show("setup");
    if (session.practice) tell(`${at("told").textContent} Practise again, or start the test.`.trim());
  }

  // ---- result

  /** Everything needed to repeat the session and to check it. */
  function results() {
    const { code, count, started } = session;
    const trials = session.trials.map((t, i) => ({
      number: i + 1, ...t, ...session.answers[i],
      right: t.catch ? null : session.answers[i].answer === t.x,
    }));
    const scored = trials.filter((t) => !t.catch), caught = trials.filter((t) => t.catch);
    const right = scored.filter((t) => t.right).length, [low, high] = interval(right, count);
    const pairs = [];
    for (const t of scored) {
      const [a, b] = [Math.min(t.a, t.b), Math.max(t.a, t.b)];
      let row = pairs.find((p) => p.a === a && p.b === b);
      if (!row) pairs.push(row = { a, b, right: 0, count: 0 });
      row.count += 1;
      row.right += t.right ? 1 : 0;
    }
    const answered = trials.map((t) => [t.a, t.b, t.x, t.answer, t.ms, t.switches].join(","));
    return {
      kind: "blind listening", format: 1, version: set.version, title: set.title, set: set.set,
      seed: set.seed, code, count, started, finished: new Date().toISOString(),
      loudness_lufs: set.loudness_lufs, rate_hz: set.rate_hz, decoded_at_hz: context.sampleRate,
      sounds: set.sounds.map(({ name, sha256 }) => ({ name, sha256 })), trials,
      score: { right, count, p: tail(right, count, 0.5), low, high },
      caught: { count: caught.length, agreed: caught.filter((t) => t.answer === t.x).length },
      pairs: pairs.sort((p, q) => p.a - q.a || p.b - q.b),
      seal: seal([set.set, set.seed, code, count, ...answered].join("/")),
    };
  }

  function csv(found) {
    const quoted = (v) => `"${String(v ?? "").replace(/^(?=[=+\-@])/, "'").replace(/"/g, '""')}"`;
    const head = ["code", "seed", "set", "version", "loudness_lufs", "trial", "a", "b", "a_sha256", "b_sha256",
      "x", "catch", "answer", "right", "ms", "switches"];
    const rows = found.trials.map((t) => [found.code, found.seed, found.set, found.version,
      found.loudness_lufs.toFixed(2), t.number, found.sounds[t.a].name, found.sounds[t.b].name,
      found.sounds[t.a].sha256, found.sounds[t.b].sha256, NAMES[t.x], t.catch, NAMES[t.answer], t.right, t.ms, t.switches]);
    return [head, ...rows].map((row) => row.map(quoted).join(",")).join("\r\n") + "\r\n";
  }

  function save(text, kind, name) {
    const link = document.createElement("a"), address = URL.createObjectURL(new Blob([text], { type: kind }));
    Object.assign(link, { href: address, download: name });
    link.click();
    setTimeout(() => URL.revokeObjectURL(address), 10000);
  }

  function finish() {
    const found = results(), { right, count, p, low, high } = found.score;
    const box = at("told-result"), chance = p < 0.0001 ? "less than 0.0001" : p.toFixed(4);
    tell("");
    box.replaceChildren();
    add(box, "p", `${right} of ${count} right.`, { class: "score", id: "score" });
    add(box, "p", `Somebody who only guesses gets ${right} or more right with a probability of ${chance} ` +
      "(exact, one-sided, binomial).", { id: "chance", "data-p": String(p) });
    add(box, "p", `The share of right answers lies between ${percent(low)} and ${percent(high)} ` +
      "(95 % interval after Clopper and Pearson); 50 % is guessing.", { id: "interval" });
    add(box, "p", p < 0.05
      ? "So the difference was very likely heard."
      : "So it is not shown that a difference was heard; that is not to say that there is none.");
    add(box, "p", `Catch trials, in which A and B were the same sound: ${found.caught.agreed} of ${found.caught.count} ` +
      "answers fell on what the dice had called right. About half is to be expected; they are not in the score.", { id: "caught" });
    add(box, "h3", "Pair by pair");
    const list = add(box, "ul");
    for (const pair of found.pairs) {
      const item = add(list, "li");
      add(item, "bdi", set.sounds[pair.a].name);
      item.append(" and ");
      add(item, "bdi", set.sounds[pair.b].name);
      item.append(`: ${pair.right} of ${pair.count} right (probability ${tail(pair.right, pair.count, 0.5).toFixed(4)})`);
    }
    const name = `blind-${found.code}`;
    at("json").onclick = () => save(`${JSON.stringify(found, null, 1)}\n`, "application/json", `${name}.json`);
    at("csv").onclick = () => save(csv(found), "text/csv", `${name}.csv`);
    show("result");
  }

  // ---- controls

  at("volume").addEventListener("input", () => { if (master) master.gain.value = loudness(); });
  at("check").addEventListener("click", () => check().catch(() => tell("The sounds cannot be decoded by this browser.")));
  at("practise").addEventListener("click", () => begin(true));
  at("start").addEventListener("click", () => begin(false));
  at("stop").addEventListener("click", stop);
  at("leave").addEventListener("click", leave);
  at("again").addEventListener("click", () => { at("code").value = ""; tell(""); show("setup"); });
  NAMES.forEach((name, i) => at(`hear${name}`).addEventListener("click", () => hear(i)));
  [0, 1].forEach((choice) => at(`is${NAMES[choice]}`).addEventListener("click", () => answer(choice)));
  document.addEventListener("keydown", (event) => {
    if (!now || !at("keys").checked || event.ctrlKey || event.altKey || event.metaKey || event.repeat) return;
    const number = ["a", "b", "x"].indexOf(event.key.toLowerCase());
    if (number >= 0) hear(number);
    else if (event.key === "1" || event.key === "2") answer(Number(event.key) - 1);
    else if (event.key === "s") stop();
    else return;
    event.preventDefault();
  });
  const output = () => [context, master];
  Object.assign(window.blind, { set, at, add, tell, show, ready, silence, save, output });
})();
