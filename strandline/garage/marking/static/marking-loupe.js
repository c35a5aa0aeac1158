// The loupe: what is under a mark, larger than the thumb beside it.

import { minus } from "./marking-lines.js";

export const LOUPE_TIMES = 4; // larger than the picture on the stage
const ACROSS = 144; // points
const RATIO = 2; // canvas pixels a point

// Draw the picture about a point (in pixels of the photo, `width` of them across it), and lines over it.
export function drawLoupe(canvas, picture, { point, scale, width }, lines) {
  const times = Math.min(Math.max(LOUPE_TIMES * scale, 1.5), 16);
  const context = canvas.getContext("2d");
  const side = ACROSS * RATIO;
  const wide = ACROSS / times; // of the photo, px
  const share = picture.naturalWidth / width;
  const corner = minus(point, [wide / 2, wide / 2]);
  context.fillStyle = "#101418";
  context.fillRect(0, 0, side, side);
  context.imageSmoothingEnabled = times < 6;
  const from = corner.map((value) => (value + 0.5) * share);
  context.drawImage(picture, ...from, wide * share, wide * share, 0, 0, side, side);
  const stroke = (points, colour, thick) => {
    context.beginPath();
    points.forEach((p, i) => {
      const at = minus(p, corner).map((v) => v * times * RATIO);
      if (i) context.lineTo(...at);
      else context.moveTo(...at);
    });
    context.strokeStyle = colour;
    context.lineWidth = thick;
    context.stroke();
  };
  for (const line of lines) {
    stroke(line, "rgb(0 0 0 / 0.6)", 5);
    stroke(line, "#5fe6ff", 2);
  }
  context.beginPath();
  context.arc(side / 2, side / 2, 5, 0, 7);
  context.strokeStyle = "#ffdf3a";
  context.lineWidth = 3;
  context.stroke();
}
