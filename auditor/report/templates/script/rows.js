/* Where rows of tiles lie, so that only those in sight need to be there. */
export const SIZES = {
  small: { least: 158, text: 3.15 },
  medium: { least: 236, text: 5.35 },
  large: { least: 420, text: 7.5 },
};
const GAP = 14;
const HEAD_REM = 2.3;
const LINE_REM = 1.5;

export function tileGrid(width, size, rem) {
  const { least, text } = SIZES[size];
  const columns = Math.max(size === "large" ? 1 : 2, Math.floor((width + GAP) / (least + GAP)));
  const wide = Math.floor((width - GAP * (columns - 1)) / columns);
  // narrower than it should be, as on a phone: the exposure has a line of its own
  const lines = wide < least ? 2 : 1;
  const words = (text + (lines - 1) * LINE_REM) * rem;
  return { columns, wide, lines, gap: GAP, tall: Math.round((wide * 2) / 3 + words) };
}

/* Rows of cells. A group starts in the row of the one before it where it fits in as a whole, so
   that single frames do not take a row each. A row in which a group starts has a line for heads. */
export function layOut(groups, grid, rem) {
  const rows = [];
  for (const group of groups) place(rows, group, grid.columns);
  let top = 0;
  const headTall = Math.round(HEAD_REM * rem);
  for (const row of rows) {
    row.top = top;
    row.tall = grid.tall + (row.heads.length ? headTall : 0);
    top += row.tall + grid.gap;
  }
  return { rows, tall: top };
}

function place(rows, group, columns) {
  const open = rows.at(-1);
  const used = open?.numbers.length ?? columns;
  const named = group.setup !== undefined;
  if (named && used + group.numbers.length <= columns && open.heads.length) {
    open.heads.push({ column: used, span: group.numbers.length, group });
    open.numbers.push(...group.numbers);
    return;
  }
  for (let at = 0; at < group.numbers.length; at += columns) {
    const numbers = group.numbers.slice(at, at + columns);
    const heads = named && at === 0 ? [{ column: 0, span: numbers.length, group }] : [];
    rows.push({ numbers, heads });
  }
}

/* First row that ends below a height. */
export function firstBelow(rows, height) {
  let low = 0;
  let high = rows.length;
  while (low < high) {
    const middle = (low + high) >> 1;
    if (rows[middle].top + rows[middle].tall < height) low = middle + 1;
    else high = middle;
  }
  return low;
}
