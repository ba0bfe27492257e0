import type { ComponentChildren, JSX } from "preact";

// Drawn by us for the questions: pencil on paper, the thing to measure in the colour of a crayon.

const Rule = ({ x, y, width }: { x: number; y: number; width: number }): JSX.Element => (
  <g class="tool">
    <rect x={x} y={y} width={width} height="16" rx="1.5" />
    {Array.from({ length: Math.floor(width / 8) }, (_, k) => (
      <path key={k} d={`M${x + 4 + 8 * k} ${y}v${k % 5 === 0 ? 9 : 5}`} />
    ))}
  </g>
);

const Arrow = ({ d }: { d: string }): JSX.Element => (
  <path class="crayon" d={d} marker-start="url(#tip)" marker-end="url(#tip)" />
);

const Turn = ({ d }: { d: string }): JSX.Element => <path class="crayon" d={d} marker-end="url(#tip)" />;

const Words = ({ x, y, children }: { x: number; y: number; children: string }): JSX.Element => (
  <text x={x} y={y} text-anchor="middle">
    {children}
  </text>
);

const Screw = ({ x, y, width }: { x: number; y: number; width: number }): JSX.Element => (
  <g>
    <rect class="metal" x={x} y={y - 7} width={width} height="14" />
    {Array.from({ length: Math.floor(width / 9) }, (_, k) => (
      <path key={k} class="thin" d={`M${x + 3 + 9 * k} ${y + 7}l5 -14`} />
    ))}
  </g>
);

const Gauge = ({ x, y, to }: { x: number; y: number; to: string }): JSX.Element => (
  <g>
    <path class="thick" d={to} />
    <circle class="paper" cx={x} cy={y} r="19" />
    <path class="thin" d={`M${x} ${y - 15}v4M${x + 15} ${y}h-4M${x} ${y + 15}v-4M${x - 15} ${y}h4`} />
    <path class="crayon" d={`M${x} ${y}l8 -10`} />
  </g>
);

const Spindle = ({ x, y }: { x: number; y: number }): JSX.Element => (
  <g>
    <rect class="metal" x={x - 15} y={y - 62} width="30" height="52" rx="3" />
    <path class="dark" d={`M${x - 7} ${y - 10}h14l-3 9h-8z`} />
  </g>
);

const PICTURES: Record<string, () => ComponentChildren> = {
  moves: () => (
    <>
      <path class="wood" d="M30 128 82 84h132l-34 44z" />
      <path class="metal" d="M60 52h120v20H60z" />
      <path class="grain" d="M48 46h14v78H48zM178 46h14v78h-14z" />
      <Spindle x={120} y={104} />
      <Arrow d="M205 122l24 -30" />
      <Words x={222} y={140}>Y</Words>
      <Arrow d="M84 146h76" />
      <Words x={172} y={151}>X</Words>
    </>
  ),
  travel: () => (
    <>
      <path class="metal" d="M22 58h196v16H22z" />
      <g class="ghost"><Spindle x={52} y={120} /></g>
      <Spindle x={186} y={120} />
      <Arrow d="M52 132h134" />
      <Rule x={36} y={142} width={168} />
    </>
  ),
  drive: () => (
    <>
      <Screw x={58} y={36} width={150} />
      <rect class="dark" x="26" y="20" width="32" height="32" rx="3" />
      <rect class="grain" x="118" y="22" width="30" height="28" />
      <circle class="dark" cx="42" cy="92" r="13" />
      <circle class="paper" cx="198" cy="92" r="13" />
      <path class="belt" d="M42 79h156a13 13 0 0 1 0 26H42a13 13 0 0 1 0 -26z" />
      <path class="dark" d="M28 148h180v12H28z" />
      <path class="thin" d="M34 148l3 -6 3 6 3 -6 3 6M58 148l3 -6 3 6 3 -6 3 6M152 148l3 -6 3 6 3 -6 3 6M180 148l3 -6 3 6 3 -6 3 6" />
      <circle class="metal" cx="112" cy="130" r="15" />
      <circle class="paper" cx="112" cy="130" r="4" />
    </>
  ),
  turn: () => (
    <>
      <Screw x={40} y={66} width={176} />
      <path class="crayon" d="M44 59v14" />
      <Turn d="M26 84a22 22 0 1 1 8 8" />
      <g class="ghost"><rect class="grain" x="92" y="46" width="34" height="40" /></g>
      <rect class="grain" x="138" y="46" width="34" height="40" />
      <Arrow d="M92 104h46" />
      <Rule x={60} y={120} width={136} />
    </>
  ),
  motor: () => (
    <>
      <rect class="dark" x="36" y="42" width="92" height="92" rx="6" />
      <circle class="metal" cx="82" cy="88" r="24" />
      <circle class="paper" cx="82" cy="88" r="7" />
      <circle cx="48" cy="54" r="4" /><circle cx="116" cy="54" r="4" />
      <circle cx="48" cy="122" r="4" /><circle cx="116" cy="122" r="4" />
      <Arrow d="M36 150h92" />
      <path class="paper" d="M146 56h74v62h-74z" />
      <text x="153" y="74">2.8 A</text><text x="153" y="92">1.9 N m</text><text x="153" y="110">1.8°</text>
      <path class="thin" d="M128 76l18 -8" />
    </>
  ),
  driver: () => (
    <>
      <rect class="dark" x="40" y="34" width="160" height="108" rx="5" />
      <rect class="paper" x="58" y="86" width="124" height="40" rx="2" />
      {[0, 1, 2, 3, 4, 5].map((k) => (
        <g key={k}>
          <rect class="thin" x={66 + 19 * k} y="92" width="12" height="28" />
          <rect class="key" x={68 + 19 * k} y={k % 3 === 1 ? 94 : 107} width="8" height="11" />
        </g>
      ))}
      <path class="paper" d="M58 46h124v30H58z" />
      <path class="thin" d="M58 61h124M89 46v30M120 46v30M151 46v30" />
      <Turn d="M214 70c14 12 10 34 -12 36" />
    </>
  ),
  supply: () => (
    <>
      <rect class="metal" x="34" y="50" width="172" height="82" rx="4" />
      {[0, 1, 2, 3, 4, 5, 6].map((k) => <circle key={k} class="thin" cx={62 + 14 * k} cy="68" r="3.4" />)}
      <path class="paper" d="M54 84h86v36H54z" />
      <text class="large" x="97" y="110" text-anchor="middle">36 V</text>
      <path class="dark" d="M160 96h32v24h-32z" />
      <path class="thin" d="M168 96v24M176 96v24M184 96v24" />
      <ellipse class="crayon" cx="97" cy="103" rx="53" ry="27" />
    </>
  ),
  carried: () => (
    <>
      <circle class="metal" cx="60" cy="70" r="34" /><circle class="paper" cx="60" cy="70" r="9" />
      <path class="dark" d="M14 104h92l-8 9H22z" />
      <path class="thin" d="M40 70a20 20 0 0 1 20 -20" />
      <circle class="paper" cx="60" cy="70" r="4" />
      <path class="dark" d="M132 104h90v16h-90z" />
      <path class="metal" d="M142 74h70v30h-70z" />
      {[0, 1, 2, 3, 4].map((k) => <circle key={k} class="paper" cx={150 + 13.5 * k} cy="104" r="5" />)}
      <Words x={60} y={142}>wheel</Words>
      <Words x={177} y={142}>balls</Words>
    </>
  ),
  beam: () => (
    <>
      <path class="metal" d="M66 60l98 -26v72l-98 30z" />
      <path class="dark" d="M24 60h42v76H24z" />
      <path class="paper" d="M31 67h28v62H31z" />
      <path class="metal" d="M24 60 122 34h42l-98 26z" />
      <Arrow d="M24 150h42" />
      <Arrow d="M10 60v76" />
      <Turn d="M96 150c-10 2 -24 -4 -33 -12" />
      <Words x={116} y={154}>wall</Words>
    </>
  ),
  spindle: () => (
    <>
      <path class="dark" d="M84 30h64q8 0 8 8v62q0 8 -8 8H84q-8 0 -8 -8V38q0 -8 8 -8z" />
      <path class="metal" d="M94 108h44l-6 16h-32zM108 124h16v16h-16z" />
      <path class="thick" d="M116 140v18" />
      <path class="paper" d="M80 46h72v42H80z" />
      <text x="116" y="63" text-anchor="middle">230 V 5 A</text>
      <text x="116" y="80" text-anchor="middle">27 000</text>
      <rect class="key" x="156" y="62" width="10" height="16" rx="2" />
      <Turn d="M200 92c2 -14 -10 -24 -28 -22" />
      <Words x={204} y={108}>by hand?</Words>
    </>
  ),
  table: () => (
    <>
      <path class="wood" d="M18 134h204v16H18z" />
      <path class="grain" d="M18 126h204v8H18z" />
      <Spindle x={92} y={92} />
      <Arrow d="M132 92v34" />
      <path class="thin" d="M100 92h38" />
      <Arrow d="M18 162h204" />
      <path class="tool" d="M158 40h14v86h-14z" />
      {Array.from({ length: 10 }, (_, k) => <path key={k} class="thin" d={`M158 ${46 + 8 * k}h6`} />)}
    </>
  ),
  feed: () => (
    <>
      <path class="wood" d="M18 112h204v34H18z" />
      <path class="paper" d="M18 112h98v12H18z" />
      <Spindle x={124} y={114} />
      <path class="thick" d="M124 112v12" />
      <Turn d="M150 92h56" />
      <path class="thin" d="M92 62h-34M92 74h-46M92 86h-28" />
      <circle class="paper" cx="204" cy="48" r="20" /><path class="crayon" d="M204 48V34M204 48l9 5" />
    </>
  ),
  play: () => (
    <>
      <path class="metal" d="M18 126h204v12H18z" />
      <path class="grain" d="M56 78h78v48H56z" />
      <Gauge x={186} y={74} to="M167 98h-33M186 93v5h-20" />
      <Arrow d="M70 60h50" />
      <path class="thin" d="M190 138V96" />
      <Words x={95} y={48}>to and fro</Words>
    </>
  ),
  push: () => (
    <>
      <path class="metal" d="M70 22h100v16H70z" />
      <path class="dark" d="M108 38h24v12h-24z" />
      <Spindle x={120} y={110} />
      <path class="thin" d="M105 92H80" />
      <path class="tool" d="M22 84h52v16H22z" /><path class="thin" d="M30 88v8M38 88v8M46 88v8M54 88v8M62 88v8" />
      <Turn d="M64 116H26" />
      <Gauge x={186} y={90} to="M167 100h-40M186 109v31" />
      <path class="wood" d="M18 140h204v12H18z" />
      <Words x={46} y={72}>45 N</Words>
    </>
  ),
};

/** A question's drawing. It repeats what the words beside it say, so it has no words of its own. */
export function Picture({ name }: { name: string }): JSX.Element | null {
  const draw = PICTURES[name];
  if (!draw) return null;
  return (
    <svg class="pencil" viewBox="0 0 240 172" aria-hidden="true" focusable="false">
      <defs>
        <marker id="tip" viewBox="0 0 8 8" refX="7" refY="4" markerWidth="6" markerHeight="6" orient="auto-start-reverse">
          <path d="M1 1 7 4 1 7" fill="none" stroke="var(--shy)" stroke-width="1.6" />
        </marker>
        <filter id="wobble" x="-5%" y="-5%" width="110%" height="110%">
          <feTurbulence type="fractalNoise" baseFrequency="0.035" numOctaves="2" seed="4" result="noise" />
          <feDisplacementMap in="SourceGraphic" in2="noise" scale="2.6" />
        </filter>
      </defs>
      <g filter="url(#wobble)">{draw()}</g>
    </svg>
  );
}
