/* Drawings of the set-ups, each when it comes near. */
function fillDrawing(place) {
  if (place.dataset.cast) place.append(castRule(JSON.parse(place.dataset.cast), Number(place.dataset.centre)));
  if (place.dataset.profile) place.append(profile(JSON.parse(place.dataset.profile)));
  if (place.dataset.ladder) fillLadder(place);
}
const nearDrawings = whenNear(fillDrawing);

function fillLadder(place) {
  const rungs = place.querySelectorAll(".rung-bar");
  const wide = Math.max(240, rungs[0]?.clientWidth ?? 0);
  ladder(JSON.parse(place.dataset.ladder), wide).forEach((picture, index) => rungs[index].append(picture));
}

const drawings = document.querySelectorAll("[data-cast], [data-profile], [data-ladder]");
drawings.forEach((place) => nearDrawings.observe(place));
