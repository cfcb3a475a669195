/* By day, in the dark, or as the system has it. */
import { byId } from "./dom.js";

const PLACE = "exposure-auditor theme";

function setTheme(name) {
  if (name === "auto") delete document.documentElement.dataset.theme;
  else document.documentElement.dataset.theme = name;
}

export function startTheme() {
  const theme = byId("theme");
  theme.addEventListener("change", () => {
    setTheme(theme.value);
    try {
      localStorage.setItem(PLACE, theme.value);
    } catch {
      /* It holds for this visit. */
    }
  });
  try {
    const kept = localStorage.getItem(PLACE);
    if (["auto", "light", "dark"].includes(kept)) {
      theme.value = kept;
      setTheme(kept);
    }
  } catch {
    /* As the system says. */
  }
}
