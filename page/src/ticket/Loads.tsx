import type { JSX } from "preact";
import { useEffect, useRef, useState } from "preact/hooks";
import uPlot from "uplot";
import "uplot/dist/uPlot.min.css";
import { ask, ofJob } from "../server";
import type { Series } from "../wire";
import { clock } from "./plan";

interface Props {
  job: string;
  madeAt: string;
  now_s: number;
  go: (time_s: number) => void;
  said: (error: unknown) => void;
}

/** Curves of load, one above the other, on the strip's minutes. */
export default function Loads({ job, madeAt, now_s, go, said }: Props): JSX.Element {
  const [series, setSeries] = useState<Series | null>(null);
  useEffect(() => {
    ask<Series>(ofJob(job, `/series?made_at=${encodeURIComponent(madeAt)}`)).then(setSeries, said);
  }, [job, madeAt, said]);
  if (!series) return <p>…</p>;
  return (
    <div class="curves">
      {series.columns.map((column) => (
        <Curve key={column.name} time={series.time_s} column={column} now_s={now_s} go={go} />
      ))}
    </div>
  );
}

function Curve({ time, column, now_s, go }: { time: number[]; column: Series["columns"][number]; now_s: number; go: (time_s: number) => void }): JSX.Element {
  const holder = useRef<HTMLDivElement>(null);
  const plot = useRef<uPlot | null>(null);
  const moment = useRef(now_s);
  moment.current = now_s;
  useEffect(() => {
    const one = holder.current;
    if (!one) return;
    const ink = getComputedStyle(one).color;
    const tone = getComputedStyle(one).getPropertyValue("--curve");
    const faint = getComputedStyle(one).getPropertyValue("--rule");
    const limit = column.limit;
    const made = new uPlot(
      {
        width: one.clientWidth,
        height: 150,
        legend: { show: false },
        cursor: { y: false, points: { show: false } },
        scales: { x: { time: false } },
        axes: [
          { stroke: ink, grid: { stroke: faint, width: 1 }, ticks: { show: false }, values: (_, at) => at.map(clock) },
          { stroke: ink, grid: { stroke: faint, width: 1 }, ticks: { show: false }, size: 56 },
        ],
        series: [{}, { stroke: tone, width: 1.4, points: { show: false }, spanGaps: false }, ...(limit === null ? [] : [{ stroke: ink, dash: [6, 5], width: 1, points: { show: false } }])],
        hooks: {
          draw: [
            (u) => {
              const x = u.valToPos(moment.current, "x", true);
              u.ctx.strokeStyle = ink;
              u.ctx.beginPath();
              u.ctx.moveTo(x, u.bbox.top);
              u.ctx.lineTo(x, u.bbox.top + u.bbox.height);
              u.ctx.stroke();
            },
          ],
        },
      },
      [time, column.value, ...(limit === null ? [] : [Array.isArray(limit) ? limit : time.map(() => limit)])] as uPlot.AlignedData,
      one,
    );
    const click = () => {
      const left = made.cursor.left ?? -1;
      if (left >= 0) go(made.posToVal(left, "x"));
    };
    made.over.addEventListener("click", click);
    const seen = new ResizeObserver(() => made.setSize({ width: one.clientWidth, height: 150 }));
    seen.observe(one);
    plot.current = made;
    return () => {
      seen.disconnect();
      made.destroy();
    };
  }, [time, column, go]);
  useEffect(() => plot.current?.redraw(false), [now_s]);
  return (
    <figure>
      <figcaption>
        {column.words}
        {column.unit ? ` [${column.unit}]` : ""}
        {column.limit !== null ? <span> dashed: the limit</span> : null}
      </figcaption>
      <div ref={holder} class="curve" />
    </figure>
  );
}
