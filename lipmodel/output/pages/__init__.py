"""Pages to show to a class, as values: data in, one HTML string out that opens offline.

The lesson's page.
`output/lesson.py` plays each scene and keeps what a page needs of it; `studies/map_sounds.py`
plays the map. The page's policy (`default-src 'none'`, the script by its hash) forbids every
request and every other script; texts go in escaped, data as JSON without `<`, and the script
writes text content only. No `eval`: tests poll. `window.lesson` holds stages, maps and tubes for
whoever wants to measure. A stage goes from hear to ask to reveal; its curves are drawn with the
last step and not before. Its sounds run on one clock, one of them heard. The map's colours are
those of `output/pictures/map.py` (a test compares them). `tests/browser/test_lesson.py` needs a
chromium; without one it is skipped, with `CI=true` it fails.

Comparing, and listening blind.
`studies/hold.py` plays each variant with what the player keeps of the first and hands the
performances to `render`; `sound/alignment.py` brings start, length and loudness together (where
one peak does not fit, all are lowered alike). What a scene writes itself is never overridden.
Effort is breath over the threshold of `analysis.threshold` at the lips of the first; that
threshold moves with the tube by 1.5 % from trumpet to cornet and by 29 % where the trumpet loses
its bell.

`blind.html` starts A, B and X together as loops of one length and moves gains in straight lines
of 10 ms, one after another: a line cut short would click. The order follows from the set's seed
and the listener's code by a small hash and generator, written in `studies/blind_test.py` and
again in `pages/blind/trials.js` (a test compares them): so the page holds no key, and
`studies/blind_results.py` can tell a file whose trials are not those that were asked. Every step
of the hash is one to one in its state; an earlier form was not and forgot the beginning of long
texts. The seal finds a careless change, not a forger: who reads the script can work out both key
and seal. Each trial tosses its own coins; catch trials (A and B the same sound) are not scored.
The group is a beta-binomial fit by greatest likelihood with a profile interval, from three
listeners on.

A room counts hands (`pages/blind/room.js`, `studies/blind_room.py`). Neighbours copy each other,
so the chance is that of X alone: exact, over all ways in which its coins could have fallen.

The live horn.
`output/live.py` hands the very arrays of the time loop to the page; `pages/live/time_loop.js` is
`kernels.time_loop.advance` once more, operation by operation (who changes one changes the other:
`tests/browser/test_live.py` holds them within 1e-9; measured 5e-14 through three partials, 2e-11
with a mouth that moves). No energy books, no moving slide: a switch of tube fades one loop out in
50 ms while the next begins. The listener's filter is cut at 512 samples (under -70 dB). Lips and
breath go 70 % of the way to the hand in each quantum, and so does the mouth's resonance; lips that
shall move in another way, and a mouth that comes or goes, begin from rest after a dip of 10 ms;
lips grow firmer with the breath that is blown, so that a gesture that is saved sounds the same
when rendered; the output is bounded by tanh. The worklet comes as a data address: a page opened
from a folder may not load one from a blob. Cost in headless Chromium on one core: 0.08 to 0.16 s a
second of trumpet. All words are in `live/words.py`.
"""
