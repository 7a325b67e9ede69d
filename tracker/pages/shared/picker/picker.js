// Draws the shapes it is given and says where the picture was clicked, or where Enter was pressed.
// Clicks are numbered and sent until they are known to have been heard: several at once lose none.
const SVG = "http://www.w3.org/2000/svg";
const pictures = new WeakMap();

export default function (component) {
  const { parentElement, data, setStateValue } = component;
  const svg = parentElement.querySelector("svg");
  const said = parentElement.querySelector(".place");
  if (!svg || !data) return;
  let picture = pictures.get(svg);
  if (!picture) {
    picture = { svg, said, at: data.start.slice(), sent: 0, waiting: [] };
    picture.sender = `${performance.timeOrigin}-${performance.now()}-${Math.random()}`;
    pictures.set(svg, picture);
    listen(picture);
  }
  const moved = picture.data && String(picture.data.box) !== String(data.box);
  if (moved) picture.at = data.start.slice();
  picture.data = data;
  const heard = data.heard[picture.sender] || 0;
  picture.waiting = picture.waiting.filter((click) => click.number > heard);
  picture.send = (x, y) => {
    picture.sent += 1;
    picture.waiting.push({ x, y, number: picture.sent, whose: picture.data.whose });
    setStateValue("clicks", { sender: picture.sender, places: picture.waiting.slice() });
  };
  draw(picture);
}

function draw(picture) {
  const { svg, data } = picture;
  svg.setAttribute("viewBox", data.box.join(" "));
  svg.setAttribute("aria-label", data.label);
  svg.replaceChildren();
  if (data.image) {
    add(svg, "image", "", { href: data.image, x: 0, y: 0, width: data.box[2], height: data.box[3] });
  }
  for (const [tag, style, numbers, text] of data.shapes) add(svg, tag, style, numbers, text);
  picture.cross = add(svg, "path", "cross", {});
  showCross(picture);
}

function add(svg, tag, style, numbers, text) {
  const shape = document.createElementNS(SVG, tag);
  if (style) shape.setAttribute("class", style);
  for (const [name, value] of Object.entries(numbers)) shape.setAttribute(name, value);
  if (text) shape.textContent = text;
  svg.appendChild(shape);
  return shape;
}

function showCross(picture) {
  const [x, y] = picture.at;
  const arm = picture.data.box[2] / 32;
  picture.cross.setAttribute("d", `M${x - arm} ${y}H${x + arm}M${x} ${y - arm}V${y + arm}`);
}

function tell(picture) {
  const { at, data, said } = picture;
  const [right, left, up, down] = data.words;
  const side = (value, more, less) =>
    `${Math.abs(value).toFixed(data.decimals)} ${data.unit} ${value >= 0 ? more : less}`;
  said.textContent = `${side(at[0], right, left)}, ${side(-at[1], up, down)}`;
}

function placeOf(picture, event) {
  const seen = new DOMPoint(event.clientX, event.clientY);
  const place = seen.matrixTransform(picture.svg.getScreenCTM().inverse());
  return inside(picture, [place.x, place.y]);
}

function inside(picture, [x, y]) {
  const [left, top, width, height] = picture.data.box;
  return [
    Math.min(Math.max(x, left), left + width),
    Math.min(Math.max(y, top), top + height),
  ];
}

function listen(picture) {
  const { svg } = picture;
  svg.addEventListener("pointermove", (event) => {
    if (event.pointerType === "touch") return;
    svg.classList.add("hover");
    picture.at = placeOf(picture, event);
    showCross(picture);
    tell(picture);
  });
  svg.addEventListener("pointerleave", () => svg.classList.remove("hover"));
  svg.addEventListener("click", (event) => {
    if (event.detail > 1) { // the second half of a double click is no second shot
      picture.said.textContent = "A double click counts once.";
      return;
    }
    picture.at = placeOf(picture, event);
    showCross(picture);
    tell(picture);
    picture.send(...picture.at);
  });
  svg.addEventListener("keydown", (event) => {
    const step = event.shiftKey ? picture.data.longStep : picture.data.step;
    const moves = {
      ArrowLeft: [-step, 0], ArrowRight: [step, 0], ArrowUp: [0, -step], ArrowDown: [0, step],
    };
    if (event.key in moves) {
      const [dx, dy] = moves[event.key];
      const start = [Math.round(picture.at[0]), Math.round(picture.at[1])];
      picture.at = inside(picture, [start[0] + dx, start[1] + dy]);
      showCross(picture);
      tell(picture);
    } else if ((event.key === "Enter" || event.key === " ") && !event.repeat) {
      picture.send(...picture.at);
    } else {
      return;
    }
    event.preventDefault();
    event.stopPropagation();
  });
}
