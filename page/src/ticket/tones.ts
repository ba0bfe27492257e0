// Proud and shy in steps of the tolerance: one list for the shader, the key and the tests.

export type Tone = readonly [number, number, number]; // red, green, blue, 0 to 1

/** Where each step begins, in tolerances. Below the first the wood keeps its own colour. */
export const STEPS = [0.5, 1, 2, 4] as const;
export const STEP_WORDS = ["½", "1", "2", "4"] as const;

/** Blue for proud, rust for shy, darker the further off: told apart by those who see no red or green. */
export const PROUD: readonly Tone[] = [
  [0.79, 0.86, 0.93],
  [0.55, 0.71, 0.85],
  [0.29, 0.53, 0.72],
  [0.11, 0.33, 0.54],
];
export const SHY: readonly Tone[] = [
  [0.97, 0.83, 0.74],
  [0.93, 0.64, 0.48],
  [0.81, 0.42, 0.21],
  [0.56, 0.23, 0.06],
];

/** The step that an error falls in: 0 is within, negative is shy. In tolerances. */
export function bandOf(off: number): number {
  const step = STEPS.filter((from) => Math.abs(off) >= from).length;
  return off < 0 && step ? -step : step;
}

export const css = (tone: Tone): string => `rgb(${tone.map((part) => Math.round(255 * part)).join(" ")})`;

const number = (value: number): string => (Number.isInteger(value) ? `${value}.` : String(value));

/** The same steps and colours as functions of the shader: `band`, `proudTone`, `shyTone`. */
export function asShader(): string {
  const steps = STEPS.map((from, k) => `a < ${number(from)} ? ${k}. : `).join("");
  const tones = (name: string, list: readonly Tone[]) => {
    const vectors = list.map((tone) => `vec3(${tone.map(number).join(",")})`);
    const chosen = vectors.slice(0, -1).map((one, k) => `b < ${k + 1.5} ? ${one} : `);
    return `vec3 ${name}(float b) { return ${chosen.join("")}${vectors.at(-1)}; }`;
  };
  return [
    `float band(float o) { float a = abs(o); return sign(o) * (${steps}${STEPS.length}.); }`,
    tones("proudTone", PROUD),
    tones("shyTone", SHY),
  ].join("\n");
}
