import { describe, expect, it } from "vitest";
import { type Tone, PROUD, SHY, STEPS, asShader, bandOf, css } from "./tones";

// Relative luminance as WCAG 2.2 defines it (its glossary, from memory).
const luminance = (tone: Tone): number => {
  const [r, g, b] = tone.map((c) => (c <= 0.04045 ? c / 12.92 : ((c + 0.055) / 1.055) ** 2.4));
  return 0.2126 * (r ?? 0) + 0.7152 * (g ?? 0) + 0.0722 * (b ?? 0);
};

describe("the colour of an error", () => {
  it("begins at half a tolerance and steps at each doubling, on both sides alike", () => {
    expect([0, 0.49, 0.5, 0.99, 1, 3.9, 4, 90].map(bandOf)).toEqual([0, 0, 1, 1, 2, 3, 4, 4]);
    expect([-0.49, -0.5, -4].map(bandOf)).toEqual([0, -1, -4]);
  });
  it("is darker the further off, so that it reads without colour", () => {
    for (const list of [PROUD, SHY]) {
      expect(list).toHaveLength(STEPS.length);
      const light = list.map(luminance);
      light.slice(1).forEach((one, k) => expect(one).toBeLessThan(light[k] ?? 0));
    }
  });
  it("is the same in the shader as in the key", () => {
    const text = asShader();
    for (const tone of [...PROUD, ...SHY]) expect(text).toContain(`vec3(${tone.join(",")})`);
    STEPS.forEach((from, k) => expect(text).toMatch(new RegExp(`a < ${from}\\.? \\? ${k}\\. :`)));
    expect(css([1, 0, 0.5])).toBe("rgb(255 0 128)");
  });
});
