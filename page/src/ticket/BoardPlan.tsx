import type { JSX } from "preact";
import { useEffect, useMemo, useRef, useState } from "preact/hooks";
import { ask, ofJob } from "../server";
import type { BoardFacts, Finding, Here } from "../wire";
import type { Arrays } from "./arrays";
import { Grain } from "./Grain";
import { apart, sheetBox } from "./plan";
import { type Tone, PROUD, SHY, STEP_WORDS, css } from "./tones";
import { Wood } from "./wood";

interface Props {
  job: string;
  board: BoardFacts;
  arrays: Arrays | null;
  findings: Finding[];
  now_s: number;
  chosen: string;
  choose: (id: string) => void;
  go: (time_s: number) => void;
  move: ((clamp: number, to_mm: [number, number]) => void) | null;
  turnGrain: ((words: string) => void) | null;
}

const MARGIN = 0.09; // of the board's longer side
const PIN_PX = 30;

/** The board from above, to scale: wood, clamps, zero, grain, and a pencil pin for each finding. */
export function BoardPlan(props: Props): JSX.Element {
  const { job, board, arrays, findings, now_s, chosen, choose, go } = props;
  const [long, wide] = board.size_mm;
  const margin = MARGIN * Math.max(long, wide);
  const box = sheetBox(board.size_mm, margin, board.clamps.flatMap((one) => one.corners_mm));
  const holder = useRef<HTMLDivElement>(null);
  const canvas = useRef<HTMLCanvasElement>(null);
  const wood = useRef<{ of: Arrays; by: Wood | null } | null>(null);
  const [width, setWidth] = useState(800);
  const [here, setHere] = useState<Here | null>(null);
  const [at, setAt] = useState<[number, number] | null>(null);
  const [tool, setTool] = useState<[number, number] | null>(null);
  const [bands, setBands] = useState(true);
  const dark = useDark();

  useEffect(() => {
    const one = holder.current;
    if (!one) return;
    const seen = new ResizeObserver(() => setWidth(one.clientWidth));
    seen.observe(one);
    return () => seen.disconnect();
  }, []);
  useEffect(() => {
    if (!canvas.current || !arrays) return;
    if (wood.current?.of !== arrays) wood.current = { of: arrays, by: Wood.on(canvas.current, arrays) };
    const look = { now_s, grain_rad: board.grain_rad, thick_mm: board.size_mm[2], dark, bands };
    void wood.current.by?.draw(look).then(() => canvas.current?.setAttribute("data-drawn", String(now_s)));
  }, [arrays, now_s, dark, width, bands, board]);
  useLater(
    () => {
      if (!arrays || !at) return;
      const key = `made_at=${encodeURIComponent(arrays.maps.made_at)}`;
      ask<Here>(ofJob(job, `/at?x=${at[0].toFixed(2)}&y=${at[1].toFixed(2)}&${key}`)).then(setHere, () => setHere(null));
    },
    90,
    [at, arrays, job],
  );
  useLater(
    () => {
      if (!arrays) return;
      const key = `made_at=${encodeURIComponent(arrays.maps.made_at)}`;
      ask<Here>(ofJob(job, `/at?time_s=${now_s.toFixed(2)}&${key}`)).then(
        (one) => setTool(one.spot_mm ? [one.spot_mm[0], one.spot_mm[1]] : null),
        () => setTool(null),
      );
    },
    60,
    [now_s, arrays, job],
  );

  const mmPerPx = box.width / Math.max(width, 1);
  const pins = useMemo(() => {
    const placed = findings.map((finding, number) => ({ finding, number: number + 1 })).filter((one) => one.finding.spot_mm);
    const points = placed.map(({ finding: { spot_mm } }) => {
      const [x, y] = spot_mm ?? [0, 0];
      return [clamp(x, box.x, box.x + box.width), wide - clamp(y, box.y, box.y + box.height)] as [number, number];
    });
    const spots = apart(points, PIN_PX * mmPerPx, box);
    return placed.map((one, k) => ({ ...one, at: spots[k] ?? [0, 0], point: points[k] ?? [0, 0] }));
  }, [findings, mmPerPx, long, wide, board.clamps]);

  const place = (event: PointerEvent): [number, number] | null => {
    const rect = canvas.current?.getBoundingClientRect();
    if (!rect) return null;
    return [((event.clientX - rect.left) / rect.width) * long, (1 - (event.clientY - rect.top) / rect.height) * wide];
  };
  const keys = (event: KeyboardEvent) => {
    const step = (event.shiftKey ? 0.05 : 0.01) * Math.max(long, wide);
    const way = { ArrowLeft: [-step, 0], ArrowRight: [step, 0], ArrowUp: [0, step], ArrowDown: [0, -step] }[event.key];
    if (way) {
      event.preventDefault();
      const [x, y] = at ?? [long / 2, wide / 2];
      setAt([clamp(x + (way[0] ?? 0), 0, long), clamp(y + (way[1] ?? 0), 0, wide)]);
    } else if (event.key === "Enter" && here?.time_s != null) go(here.time_s);
  };
  const percent = (x: number, y: number) => ({
    left: `${(100 * (x - box.x)) / box.width}%`,
    top: `${(100 * (y - box.y)) / box.height}%`,
  });

  return (
    <figure class="plan">
      <div class="plan-sheet" ref={holder} style={{ aspectRatio: `${box.width} / ${box.height}` }}>
        <canvas
          ref={canvas}
          class="wood"
          tabIndex={0}
          role="img"
          aria-label={`The board from above, ${board.wood}. Arrow keys move the pencil, Enter goes to the moment when that place is cut.`}
          aria-describedby="plan-here"
          style={{ ...percent(0, 0), width: `${(100 * long) / box.width}%`, height: `${(100 * wide) / box.height}%` }}
          onPointerMove={(event) => setAt(place(event))}
          onPointerLeave={() => setAt(null)}
          onClick={() => here?.time_s != null && go(here.time_s)}
          onKeyDown={keys}
        />
        <svg class="over" viewBox={`${box.x} ${box.y} ${box.width} ${box.height}`} aria-hidden="true">
          <rect x={0} y={0} width={long} height={wide} class="edge" />
          {!arrays && board.outline_mm.length > 2 ? (
            <polygon class="reach" points={board.outline_mm.map(([x, y]) => `${x},${wide - y}`).join(" ")} />
          ) : null}
          {board.screws_mm.map(([x, y], k) => (
            <g key={k} transform={`translate(${x} ${wide - y}) scale(${mmPerPx})`} class="screw">
              <circle r={5} />
              <path d="M-3 -3 3 3M3 -3-3 3" />
            </g>
          ))}
          <g transform={`translate(${board.zero_mm[0]} ${wide - board.zero_mm[1]}) scale(${mmPerPx})`} class="zero">
            <path d="M0 0H34M0 0V-34M30-4 34 0 30 4M-4-30 0-34 4-30" />
            <circle r={5} />
            <text x={38} y={4}>X</text>
            <text x={-4} y={-40}>Y</text>
          </g>
          {tool ? (
            <g transform={`translate(${tool[0]} ${wide - tool[1]}) scale(${mmPerPx})`} class="tool">
              <circle r={9} />
              <path d="M-15 0H-5M5 0H15M0-15V-5M0 5V15" />
            </g>
          ) : null}
          {at ? <path class="hair" d={`M${at[0]} 0V${wide}M0 ${wide - at[1]}H${long}`} /> : null}
          {pins.map(({ finding, at: [x, y], point: [px, py] }) =>
            Math.hypot(x - px, y - py) > mmPerPx ? <path key={finding.id} class="lead" d={`M${x} ${y}L${px} ${py}`} /> : null,
          )}
        </svg>
        {board.clamps.map((one, k) => (
          <ClampBlock key={one.name} clamp={one} wide={wide} box={box} mmPerPx={mmPerPx} move={props.move ? (to) => props.move?.(k, to) : null} />
        ))}
        {pins.map(({ finding, number, at: [x, y] }) => (
          <button
            key={finding.id}
            type="button"
            class={`pin ${finding.severity}${chosen === finding.id ? " chosen" : ""}`}
            style={percent(x, y)}
            aria-label={`${number}: ${finding.words}`}
            aria-pressed={chosen === finding.id}
            onClick={() => choose(finding.id)}
          >
            {number}
          </button>
        ))}
        {props.turnGrain ? <Grain grain_rad={board.grain_rad} turn={props.turnGrain} /> : null}
      </div>
      <figcaption>
        <p id="plan-here" aria-live="polite">
          {here && at ? here.words.join(" · ") : arrays ? "Point at a place to read it; click to go to the moment when it is cut." : "Not proved yet: the dashed line is how far the program reaches."}
        </p>
        {arrays ? (
          <p class="key">
            <label>
              <input type="checkbox" checked={bands} onChange={(event) => setBands(event.currentTarget.checked)} /> contours
            </label>
            <Swatches words="▲ proud: wood left" tones={PROUD} kind="proud" />
            <Swatches words="▼ shy: wood gone" tones={SHY} kind="shy" />
            <span>from {STEP_WORDS.join(", ")} tolerances on</span>
          </p>
        ) : null}
      </figcaption>
    </figure>
  );
}

function Swatches({ words, tones, kind }: { words: string; tones: readonly Tone[]; kind: string }): JSX.Element {
  return (
    <span class={`swatch ${kind}`}>
      {words}
      <i aria-hidden="true">
        {tones.map((tone, k) => (
          <b key={k} style={{ backgroundColor: css(tone) }} />
        ))}
      </i>
    </span>
  );
}

interface ClampProps {
  clamp: BoardFacts["clamps"][number];
  wide: number;
  box: { x: number; y: number; width: number; height: number };
  mmPerPx: number;
  move: ((to_mm: [number, number]) => void) | null;
}

/** A clamp that can be dragged, or moved with the arrow keys; written down when let go. */
function ClampBlock({ clamp: one, wide, box, mmPerPx, move }: ClampProps): JSX.Element {
  const xs = one.corners_mm.map(([x]) => x);
  const ys = one.corners_mm.map(([, y]) => y);
  const [x, y, w, h] = [Math.min(...xs), Math.min(...ys), Math.max(...xs) - Math.min(...xs), Math.max(...ys) - Math.min(...ys)];
  const [by, setBy] = useState<[number, number] | null>(null);
  const from = useRef<[number, number]>([0, 0]);
  useEffect(() => setBy(null), [x, y]);
  const [dx, dy] = by ?? [0, 0];
  const place = {
    left: `${(100 * (x + dx - box.x)) / box.width}%`,
    top: `${(100 * (wide - y - dy - h - box.y)) / box.height}%`,
    width: `${(100 * w) / box.width}%`,
    height: `${(100 * h) / box.height}%`,
  };
  const put = (to: [number, number]) => move?.([Math.round((x + to[0]) * 2) / 2, Math.round((y + to[1]) * 2) / 2]);
  const waiting = useRef(0);
  return (
    <button
      type="button"
      class="clamp"
      style={place}
      disabled={!move}
      aria-label={`Clamp ${one.name}. Arrow keys move it.`}
      title={one.name}
      onPointerDown={(event) => {
        event.currentTarget.setPointerCapture(event.pointerId);
        from.current = [event.clientX, event.clientY];
        setBy([0, 0]);
      }}
      onPointerMove={(event) => {
        if (!by || !event.currentTarget.hasPointerCapture(event.pointerId)) return;
        setBy([(event.clientX - from.current[0]) * mmPerPx, -(event.clientY - from.current[1]) * mmPerPx]);
      }}
      onPointerUp={() => (by && Math.hypot(...by) > 0.4 ? put(by) : setBy(null))}
      onKeyDown={(event) => {
        const step = event.shiftKey ? 10 : 1;
        const way = { ArrowLeft: [-step, 0], ArrowRight: [step, 0], ArrowUp: [0, step], ArrowDown: [0, -step] }[event.key];
        if (!way) return;
        event.preventDefault();
        const to: [number, number] = [dx + (way[0] ?? 0), dy + (way[1] ?? 0)];
        setBy(to);
        clearTimeout(waiting.current);
        waiting.current = window.setTimeout(() => put(to), 600);
      }}
    >
      <span>{one.name}</span>
    </button>
  );
}

const clamp = (value: number, low: number, high: number): number => Math.min(Math.max(value, low), high);

function useDark(): boolean {
  const query = "(prefers-color-scheme: dark)";
  const [dark, setDark] = useState(() => matchMedia(query).matches);
  useEffect(() => {
    const media = matchMedia(query);
    const seen = () => setDark(media.matches);
    media.addEventListener("change", seen);
    return () => media.removeEventListener("change", seen);
  }, []);
  return dark;
}

function useLater(work: () => void, after_ms: number, on: unknown[]): void {
  useEffect(() => {
    const waiting = setTimeout(work, after_ms);
    return () => clearTimeout(waiting);
  }, on);
}
