// A round for the whole room: A, B and X over the loudspeaker, hands counted, the chance at once.
(() => {
  const { set, at, add, tell, show, ready, save, output } = window.blind;
  const NAMES = ["A", "B", "X"], LETTERS = ["a", "b", "x"], SOON = 0.02;
  let round = null; // { a, b, count, trials: [{ x, hands_a, hands_b }] }
  let now = null; // { x, deck, heard, told }

  /** A fair coin that nobody can foresee. */
  const coin = () => crypto.getRandomValues(new Uint8Array(1))[0] & 1;
  const rightOf = (trials) => trials.reduce((sum, t) => sum + (t.x ? t.hands_b : t.hands_a), 0);
  const handsOf = (trials) => trials.reduce((sum, t) => sum + t.hands_a + t.hands_b, 0);

  /** Probability that so many hands or more are right, over all ways in which X could have
   *  fallen (blind_room.py has the same lines). */
  function chanceOf(trials) {
    let ways = new Map([[0, 1]]);
    for (const t of trials) {
      const more = new Map();
      for (const [right, count] of ways) {
        for (const hands of [t.hands_a, t.hands_b]) more.set(right + hands, (more.get(right + hands) ?? 0) + count);
      }
      ways = more;
    }
    let sum = 0;
    for (const [right, count] of ways) if (right >= rightOf(trials)) sum += count;
    return sum / 2 ** trials.length;
  }

  function begin() {
    const count = Number(at("room-count").value);
    if (!at("check").dataset.done) { tell("First set the volume."); at("check").focus(); return; }
    if (!(Number.isInteger(count) && count >= 5 && count <= 12)) { tell("Choose 5 to 12 trials."); at("room-count").focus(); return; }
    const [a, b] = at("room-pair").value.split(",").map(Number);
    round = { a, b, count, trials: [] };
    ready().catch(() => tell("The sounds cannot be decoded by this browser."));
    next();
  }

  function next() {
    stop();
    tell("");
    now = { x: coin(), deck: null, heard: new Set(), told: false };
    at("room-which").textContent = `Trial ${round.trials.length + 1} of ${round.count}`;
    at("room-told").replaceChildren();
    at("room-how").hidden = false;
    for (const id of ["hands-a", "hands-b"]) at(id).value = "";
    at("room-go").textContent = "Count";
    at("room-save").hidden = true;
    show("room");
  }

  async function hear(number) {
    const mine = now, buffers = await ready(), [context, master] = output();
    if (mine !== now || now.told) return;
    const time = context.currentTime + SOON;
    now.deck ??= new Deck(context, master, [round.a, round.b, now.x ? round.b : round.a].map((n) => buffers[n]), time);
    now.deck.hear(number, time);
    now.heard.add(number);
    marks(number);
  }

  function marks(on) {
    NAMES.forEach((name, i) => at(`room${name}`).setAttribute("aria-pressed", String(on === i)));
  }

  function stop() {
    if (now?.deck) now.deck.stop(output()[0].currentTime + SOON);
    if (now) now.deck = null;
    marks(-1);
  }

  /** Counts the hands, or goes on where they are counted. */
  function go() {
    if (now.told) { if (round.trials.length === round.count) again(); else next(); return; }
    const [a, b] = ["hands-a", "hands-b"].map((id) => Number(at(id).value || 0));
    if (now.heard.size < 3) { tell("Listen to A, B and X first."); return; }
    if (![a, b].every((n) => Number.isInteger(n) && n >= 0 && n <= 999) || a + b < 1) {
      tell("Type in how many hands went up for A and for B."); at("hands-a").focus(); return;
    }
    stop();
    now.told = true;
    round.trials.push({ x: now.x, hands_a: a, hands_b: b });
    result();
  }

  function result() {
    const { trials, count } = round, last = trials[trials.length - 1], box = at("room-told");
    const p = chanceOf(trials), chance = p < 0.0001 ? "less than 0.0001" : p.toFixed(4), done = trials.length === count;
    tell("");
    box.replaceChildren();
    at("room-how").hidden = true;
    add(box, "p", `X was ${NAMES[last.x]}: ${last.x ? last.hands_b : last.hands_a} of ${last.hands_a + last.hands_b} hands right.`, { class: "score" });
    add(box, "p", `${done ? "Together" : "So far"} ${rightOf(trials)} of ${handsOf(trials)}. By chance that many or more are right with a ` +
      `probability of ${chance}.`, { id: "room-chance", "data-p": String(p) });
    if (done) {
      add(box, "p", p < 0.05 ? "So the difference was very likely heard." : "So it is not shown that a difference was heard.");
      add(box, "p", `Exact, over all ${2 ** count} ways in which X could have fallen, whatever the hands did.`, { class: "note" });
    }
    at("room-go").textContent = done ? "Another round" : "Next trial";
    at("room-save").hidden = !done;
    at("room-go").focus();
  }

  function again() { round = now = null; tell(""); show("setup"); }

  function saved() {
    const { a, b, trials } = round;
    const text = [set.set, a, b, ...trials.map((t) => [t.hands_a, t.hands_b, t.x].join(","))].join("/");
    const data = {
      kind: "blind room", format: 1, version: set.version, title: set.title, set: set.set,
      sounds: set.sounds.map(({ name, sha256 }) => ({ name, sha256 })), a, b, trials, finished: new Date().toISOString(),
      score: { right: rightOf(trials), hands: handsOf(trials), p: chanceOf(trials) }, seal: seal(text),
    };
    save(`${JSON.stringify(data, null, 1)}\n`, "application/json", "blind-room.json");
  }

  at("room-start").addEventListener("click", begin);
  at("room-go").addEventListener("click", go);
  at("room-stop").addEventListener("click", stop);
  at("room-save").addEventListener("click", saved);
  at("room-leave").addEventListener("click", () => { stop(); again(); });
  NAMES.forEach((name, i) => at(`room${name}`).addEventListener("click", () => hear(i)));

  /** The clicker's one key: A, B, X, then the hands, then the count, then the next trial. */
  function clicker() {
    const unheard = [0, 1, 2].find((i) => !now.heard.has(i)), typed = at("hands-a").value + at("hands-b").value;
    if (unheard !== undefined) hear(unheard);
    else if (!now.told && !typed) { stop(); at("hands-a").focus(); }
    else go();
  }

  document.addEventListener("keydown", (event) => {
    if (!now || event.ctrlKey || event.altKey || event.metaKey || event.repeat) return;
    const button = event.target.matches("button"), letter = LETTERS.indexOf(event.key.toLowerCase());
    if (letter >= 0) hear(letter);
    else if (event.key === "s") stop();
    else if (/^(PageDown|ArrowRight|\.)$/.test(event.key) || (event.key === "Enter" && !button)) clicker();
    else return;
    event.preventDefault();
  });
  Object.assign(window.blind, { chanceOf });
  document.body.dataset.ready = "yes";
})();
