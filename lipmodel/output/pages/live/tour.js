// The guided tour: five steps, each a thing to do and a thing to listen for.

const tube = (label) => data.choices.findIndex((c) => c.group === "tube" && c.label === label);

/** [what is said, the tube, what is made ready], as far as this page has the tubes. */
function stepsOf() {
  const others = data.choices.map((c, i) => i).filter((i) => i && data.choices[i].group === "tube");
  const bell = tube("bell off"), cone = tube("hailing cone"), named = (i) => words.tour_other.replace("{}", data.choices[i].label);
  const steps = [[words.tour_up, 0, () => { wipe(); follow(true); }], [words.tour_down, 0]];
  if (bell > 0) steps.push([words.tour_bell, bell]);
  if (cone > 0) steps.push([words.tour_cone, cone]);
  for (const i of others) if (steps.length < 4 && i !== bell && i !== cone) steps.push([named(i), i]);
  const hands = SLIDES ? words.tour_slide : HELD.numbers.length ? words.tour_valves : data.choices[0].notes.length ? words.tour_keys : words.tour_breath;
  const last = [hands, 0];
  if (steps.length < 4) steps.push([words.tour_breath, 0, () => follow(false)]);
  return [...steps.slice(0, 4), last];
}

const tour = { steps: [], at: -1 };
function tourTo(at) {
  const step = tour.steps[at];
  tour.at = step ? at : -1;
  by("tour").hidden = !step;
  if (!step) return by("field").focus();
  by("tour-text").textContent = `${at + 1} / ${tour.steps.length}  ${step[0]}`;
  by("tour-next").textContent = at + 1 < tour.steps.length ? words.tour_next : words.tour_end;
  by("tour-end").hidden = at + 1 === tour.steps.length;
  if (step[1] !== state.tube) { pick(step[1]); home(); }
  if (step[2]) step[2]();
}
by("tour-open").addEventListener("click", () => { tour.steps = stepsOf(); tourTo(0); by("tour-next").focus(); });
by("tour-next").addEventListener("click", () => tourTo(tour.at + 1));
by("tour-end").addEventListener("click", () => tourTo(-1));
