import type { JSX } from "preact";
import { useMemo, useRef } from "preact/hooks";
import type { GiveMap, MachineDrawing } from "../wire";
import { type Place, type View, dragged, extentOf, shades, shiftOf, within } from "./place";

interface Props {
  drawing: MachineDrawing;
  place: Place;
  go: (place: Place) => void;
  view: View;
  give?: { map: GiveMap; height: number; along: number } | undefined;
}

const STEP_MM = 10;
const KEYS: Record<string, Record<View, readonly [number, number]>> = {
  ArrowLeft: { plan: [-STEP_MM, 0], front: [-STEP_MM, 0] },
  ArrowRight: { plan: [STEP_MM, 0], front: [STEP_MM, 0] },
  ArrowUp: { plan: [0, STEP_MM], front: [0, STEP_MM] },
  ArrowDown: { plan: [0, -STEP_MM], front: [0, -STEP_MM] },
};

/** One view of the machine, to scale. It is dragged, or moved with the arrow keys. */
export function Drawing({ drawing, place, go, view, give }: Props): JSX.Element {
  const extent = useMemo(() => extentOf(drawing, view), [drawing, view]);
  const svg = useRef<SVGSVGElement>(null);
  const from = useRef<{ x: number; y: number; place: Place } | null>(null);
  const margin = 24;
  const width = extent.right - extent.left + 2 * margin;
  const height = extent.high - extent.low + 2 * margin;
  const up = (y: number) => extent.high + margin - y;
  const across = (x: number) => x - extent.left + margin;
  const mm = (event: PointerEvent) => {
    const box = svg.current?.getBoundingClientRect();
    const scale = box ? width / box.width : 1;
    return { x: event.clientX * scale, y: -event.clientY * scale };
  };
  const shown = drawing.parts.filter((part) => (view === "plan" ? part.plan_mm : part.front_mm).length);
  const name = view === "plan" ? "from above" : "from the front";

  return (
    <svg
      ref={svg}
      class={`machine ${view}`}
      viewBox={`0 0 ${width} ${height}`}
      role="img"
      aria-label={`The machine ${name}, to scale: ${drawing.what_moves}. X ${Math.round(place[0])}, Y ${Math.round(place[1])} mm, Z ${Math.round(place[2])} mm down.`}
      onPointerDown={(event) => {
        (event.currentTarget as Element).setPointerCapture(event.pointerId);
        from.current = { ...mm(event), place };
      }}
      onPointerMove={(event) => {
        const begin = from.current;
        if (!begin) return;
        const now = mm(event);
        go(dragged(begin.place, drawing, now.x - begin.x, now.y - begin.y, view));
      }}
      onPointerUp={() => (from.current = null)}
      onPointerCancel={() => (from.current = null)}
    >
      {shown.map((part, number) => {
        const [dx, dy] = shiftOf(part.shift, place, view);
        const outline = view === "plan" ? part.plan_mm : part.front_mm;
        const points = outline.map(([x, y]) => `${across(x)},${up(y)}`).join(" ");
        return (
          <g key={number} class={`part ${part.kind}`} style={{ transform: `translate(${dx}px, ${-dy}px)` }}>
            {part.kind === "travel" && view === "plan" && give ? (
              <GiveImage give={give} drawing={drawing} left={across(0)} top={up(drawing.travel_mm[1])} />
            ) : null}
            <polygon points={points} />
            {part.kind === "travel" ? (
              <text x={across(outline[0]?.[0] ?? 0) + 6} y={up(outline[0]?.[1] ?? 0) - 8}>
                {view === "plan" ? "reach of the spindle" : ""}
              </text>
            ) : null}
          </g>
        );
      })}
      {view === "plan" ? <Cross drawing={drawing} place={place} at={(x, y) => [across(x), up(y)]} /> : null}
    </svg>
  );
}

/** Arrow keys anywhere on the drawings. */
export function keyed(event: KeyboardEvent, view: View, place: Place, drawing: MachineDrawing): Place | null {
  const way = KEYS[event.key]?.[view];
  if (!way) return null;
  const many = event.shiftKey ? 5 : 1;
  const [x, y, z] = place;
  return within(
    view === "plan" ? [x + many * way[0], y + many * way[1], z] : [x + many * way[0], y, z - many * way[1]],
    drawing.travel_mm,
  );
}

function Cross(props: { drawing: MachineDrawing; place: Place; at: (x: number, y: number) => [number, number] }): JSX.Element {
  const spindle = props.drawing.parts.find((part) => part.name === "collet");
  const [dx, dy] = shiftOf(spindle?.shift ?? [1, 1, 1], props.place, "plan");
  const [x, y] = props.at(dx, dy);
  return <path class="cross" d={`M${x - 26} ${y}h52M${x} ${y - 26}v52`} />;
}

function GiveImage(props: {
  give: NonNullable<Props["give"]>;
  drawing: MachineDrawing;
  left: number;
  top: number;
}): JSX.Element {
  const { map, height, along } = props.give;
  const [width, depth] = props.drawing.travel_mm;
  const columns = 240;
  const rows = Math.max(2, Math.round((columns * depth) / width));
  const picture = useMemo(() => {
    const canvas = document.createElement("canvas");
    canvas.width = columns;
    canvas.height = rows;
    const pen = canvas.getContext("2d");
    if (!pen) return "";
    const image = pen.createImageData(columns, rows);
    shades(map, height, along, columns, rows).forEach((line, row) =>
      line.forEach((share, column) => {
        const step = Math.min(Math.floor(share * 10), 9) / 9; // bands, so that lines of one give show
        image.data.set([142, 58, 16, Math.round(20 + 175 * step)], 4 * (row * columns + column));
      }),
    );
    pen.putImageData(image, 0, 0);
    return canvas.toDataURL();
  }, [map, height, along, rows]);
  return (
    <image href={picture} x={props.left} y={props.top} width={width} height={depth} preserveAspectRatio="none" />
  );
}
