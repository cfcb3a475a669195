/* Where the page begins. */
import { startActions } from "./actions.js";
import { startCloseup } from "./closeup.js";
import { startFilters } from "./filters.js";
import { startFrames } from "./frames.js";
import { startMarks } from "./marks.js";
import { startOverview } from "./overview.js";
import { startRoutes } from "./route.js";
import { startSetups } from "./setups.js";
import { startSide } from "./side.js";
import { startTakeAway } from "./takeaway.js";
import { startTheme } from "./theme.js";
import { startTimeline } from "./timeline.js";

startTheme();
startActions();
startFilters();
startFrames();
startCloseup();
startSide();
startSetups();
startTakeAway();
startTimeline();
startOverview();
startMarks();
startRoutes();
document.documentElement.dataset.ready = "yes";
