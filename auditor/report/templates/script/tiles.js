/* Maps of lost tiles: from their runs to cells, outlines and patches. Nothing here draws. */

/* Runs are lengths in base 36, off first, row after row. */
export function cellsOf(runs, rows, cols) {
  const cells = new Uint8Array(rows * cols);
  let at = 0;
  let on = 0;
  for (const run of runs ? runs.split(" ") : []) {
    const length = Number.parseInt(run, 36);
    if (on) cells.fill(1, at, at + length);
    at += length;
    on = 1 - on;
  }
  return cells;
}

/* The edges between lost and kept as path data, one unit a tile; joined along rows and columns. */
export function outlineOf(cells, rows, cols) {
  const at = (row, col) =>
    row >= 0 && col >= 0 && row < rows && col < cols ? cells[row * cols + col] : 0;
  let path = "";
  for (let row = 0; row <= rows; row += 1) {
    path += edges(
      cols,
      (col) => at(row - 1, col) !== at(row, col),
      (col) => `M${col} ${row}`,
      "H",
    );
  }
  for (let col = 0; col <= cols; col += 1) {
    path += edges(
      rows,
      (row) => at(row, col - 1) !== at(row, col),
      (row) => `M${col} ${row}`,
      "V",
    );
  }
  return path;
}

function edges(length, isEdge, start, way) {
  let path = "";
  let from = -1;
  for (let place = 0; place <= length; place += 1) {
    const edge = place < length && isEdge(place);
    if (edge && from < 0) from = place;
    if (!edge && from >= 0) {
      path += `${start(from)}${way}${place}`;
      from = -1;
    }
  }
  return path;
}

/* The lost area itself as path data over a picture of that size. */
export function areaOf(cells, rows, cols, wide = cols, tall = rows) {
  const [w, h] = [wide / cols, tall / rows];
  const put = (value) => +value.toFixed(2);
  let path = "";
  for (let row = 0; row < rows; row += 1) {
    for (let col = 0; col < cols; col += 1) {
      if (!cells[row * cols + col]) continue;
      const from = col;
      while (col < cols && cells[row * cols + col]) col += 1;
      const across = put((col - from) * w);
      path += `M${put(from * w)} ${put(row * h)}h${across}v${put(h)}h${-across}z`;
    }
  }
  return path;
}

/* Those cells that touch none of an area, not even by a corner. */
export function apartFrom(cells, area, rows, cols) {
  return cells.map((cell, at) => {
    if (!cell) return 0;
    const [row, col] = [Math.floor(at / cols), at % cols];
    for (let r = Math.max(0, row - 1); r <= Math.min(rows - 1, row + 1); r += 1) {
      for (let c = Math.max(0, col - 1); c <= Math.min(cols - 1, col + 1); c += 1) {
        if (area[r * cols + c]) return 0;
      }
    }
    return 1;
  });
}

/* How much of an outline's weight is drawn: all of it round a few tiles, so that even one is seen;
   less where so many have one that the outlines would cover more than what they enclose. */
const MOST_OUTLINE = 0.05;
const OUTLINE_PX = 3.4;
export function outlineWeight(cells, rows, cols, wide, tall) {
  const at = (row, col) =>
    row >= 0 && col >= 0 && row < rows && col < cols ? cells[row * cols + col] : 0;
  let length = 0;
  for (let row = 0; row <= rows; row += 1) {
    for (let col = 0; col <= cols; col += 1) {
      length += (at(row, col) !== at(row - 1, col)) * (wide / cols);
      length += (at(row, col) !== at(row, col - 1)) * (tall / rows);
    }
  }
  const share = (length * OUTLINE_PX) / (wide * tall);
  return Math.max(0.25, Math.min(1, MOST_OUTLINE / share));
}

/* How wide a dot is: a few are drawn so that each is seen; the more there are the nearer they come
   to the area that is truly lost. */
const SEEN_PX = 2.4;
const LEAST_PX = 0.4;
const FEW = 40;
export function dotWidth(count, share, tileArea) {
  const truly = Math.sqrt((4 / Math.PI) * share * tileArea);
  const seen = SEEN_PX * Math.sqrt(FEW / Math.max(FEW, count));
  return Math.max(truly, seen, LEAST_PX);
}

/* A dot in the middle of each lost tile, as path data over a picture of that size. */
export function dotsOf(cells, rows, cols, wide = cols, tall = rows) {
  let path = "";
  cells.forEach((lost, cell) => {
    if (!lost) return;
    const x = (((cell % cols) + 0.5) * wide) / cols;
    const y = ((Math.floor(cell / cols) + 0.5) * tall) / rows;
    path += `M${+x.toFixed(2)} ${+y.toFixed(2)}h0`;
  });
  return path;
}

/* Connected patches (edge to edge or corner to corner), largest first, as fractions of the map. */
export function patchesOf(cells, rows, cols) {
  const seen = new Uint8Array(cells.length);
  const found = [];
  for (let start = 0; start < cells.length; start += 1) {
    if (cells[start] && !seen[start]) found.push(patchFrom(start, cells, seen, rows, cols));
  }
  return found.sort((one, other) => other.tiles - one.tiles || one.top - other.top);
}

function patchFrom(start, cells, seen, rows, cols) {
  const waiting = [start];
  seen[start] = 1;
  let tiles = 0;
  let [top, left, bottom, right] = [rows, cols, 0, 0];
  while (waiting.length) {
    const cell = waiting.pop();
    const row = Math.floor(cell / cols);
    const col = cell % cols;
    tiles += 1;
    [top, bottom] = [Math.min(top, row), Math.max(bottom, row + 1)];
    [left, right] = [Math.min(left, col), Math.max(right, col + 1)];
    for (let r = Math.max(0, row - 1); r <= Math.min(rows - 1, row + 1); r += 1) {
      for (let c = Math.max(0, col - 1); c <= Math.min(cols - 1, col + 1); c += 1) {
        const next = r * cols + c;
        if (!cells[next] || seen[next]) continue;
        seen[next] = 1;
        waiting.push(next);
      }
    }
  }
  return { tiles, left: left / cols, top: top / rows, right: right / cols, bottom: bottom / rows };
}
