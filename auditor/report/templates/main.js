/* The page's theme, its first drawing, and its readiness for paper. */
const THEME_PLACE = "exposure-auditor theme";
const theme = byId("theme");

function setTheme(name) {
  if (name === "auto") delete document.documentElement.dataset.theme;
  else document.documentElement.dataset.theme = name;
}
theme.addEventListener("change", () => {
  setTheme(theme.value);
  try { localStorage.setItem(THEME_PLACE, theme.value); } catch { /* It holds for this visit. */ }
});
try {
  const kept = localStorage.getItem(THEME_PLACE);
  if (["auto", "light", "dark"].includes(kept)) { theme.value = kept; setTheme(kept); }
} catch { /* As the system says. */ }

new ResizeObserver(drawLine).observe(line);

const opened = [];

/* On paper everything is filled that the page would fill only when it is seen. */
addEventListener("beforeprint", () => {
  document.querySelectorAll("[data-shot]").forEach(fillShot);
  shownCards().forEach(fillCard);
  drawings.forEach((place) => { if (!place.querySelector("svg")) { nearDrawings.unobserve(place); fillDrawing(place); } });
  document.querySelectorAll("img").forEach((image) => { image.decoding = "sync"; });
  document.querySelectorAll(".legend details[data-found]:not([open]), .more:not([open])").forEach((entry) => { entry.open = true; opened.push(entry); });
});
addEventListener("afterprint", () => opened.splice(0).forEach((entry) => { entry.open = false; }));
document.documentElement.dataset.ready = "yes";
