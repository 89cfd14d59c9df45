"use strict";
// How far each sound of a comparison is turned down.
const turn = () => {
  const chosen = document.querySelector("input[name=loudness]:checked")?.value ?? "equal";
  for (const sound of document.querySelectorAll("audio")) sound.volume = 10 ** (-Number(sound.dataset[chosen]) / 20);
};
for (const choice of document.querySelectorAll("input[name=loudness]")) choice.addEventListener("change", turn);
turn();
