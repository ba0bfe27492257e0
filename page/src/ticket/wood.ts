// The board in plan as wood that appears as it is cut: one shader over integer textures. The moment
// is one number, so that the slider uploads nothing.

import type { Arrays, Layer } from "./arrays";
import { keyframeAt } from "./arrays";
import { asShader } from "./tones";

const VERTEX = `#version 300 es
in vec2 at; out vec2 share;
void main() { share = at * .5 + .5; gl_Position = vec4(at, 0., 1.); }`;

const FRAGMENT = `#version 300 es
precision highp float; precision highp int; precision highp isampler2D; precision highp usampler2D;
uniform isampler2D before, height, error; uniform usampler2D beforeTime, time;
uniform vec2 board, corner; uniform float cell, zero, stepMm, errorStep, tolerance, thick, now, grain, mmPerPx, hatch;
uniform int untouched, never, dark, bands, hasBefore;
in vec2 share; out vec4 colour;

float noise(vec2 p) { return fract(sin(dot(p, vec2(12.9898, 78.233))) * 43758.5453); }
float smoothNoise(vec2 p) {
  vec2 i = floor(p), f = fract(p); f = f * f * (3. - 2. * f);
  return mix(mix(noise(i), noise(i + vec2(1, 0)), f.x), mix(noise(i + vec2(0, 1)), noise(i + vec2(1, 1)), f.x), f.y);
}
ivec2 size() { return textureSize(height, 0); }
bool inside(ivec2 p) { ivec2 s = size(); return p.x >= 0 && p.y >= 0 && p.x < s.x && p.y < s.y; }
float top(ivec2 p) {
  if (!inside(p)) return 0.;
  uint t = texelFetch(time, p, 0).r;
  if (t != uint(never) && float(t) <= now) return zero + stepMm * float(texelFetch(height, p, 0).r);
  if (hasBefore == 1 && texelFetch(beforeTime, p, 0).r != uint(never)) return zero + stepMm * float(texelFetch(before, p, 0).r);
  return 0.;
}
float off(ivec2 p) {  // proud or shy in tolerances; 0 where nothing is known
  if (!inside(p)) return 0.;
  uint t = texelFetch(time, p, 0).r;
  int e = texelFetch(error, p, 0).r;
  return e == untouched || t == uint(never) || float(t) > now ? 0. : float(e) * errorStep / tolerance;
}
${asShader()}

void main() {
  vec2 mm = vec2(share.x, share.y) * board;
  ivec2 p = ivec2(floor((mm - corner) / cell));
  vec2 along = vec2(cos(grain), sin(grain));
  vec2 g = vec2(dot(mm, along), dot(mm, vec2(-along.y, along.x)));
  float ring = smoothNoise(vec2(g.x * .012, g.y * .16 + 3. * smoothNoise(g * vec2(.006, .03))));
  float fine = smoothNoise(vec2(g.x * .05, g.y * 2.2));
  vec3 wood = mix(vec3(.905,.815,.640), vec3(.80,.68,.475), .30 * ring + .16 * fine);
  float z = top(p);
  float reach = max(1., floor(mmPerPx / cell));
  ivec2 d = ivec2(reach);
  float w = 2. * reach * cell;
  vec3 n = normalize(vec3((top(p - ivec2(d.x, 0)) - top(p + ivec2(d.x, 0))) / w, (top(p - ivec2(0, d.y)) - top(p + ivec2(0, d.y))) / w, 1.));
  float light = .50 + .50 * clamp(dot(n, normalize(vec3(-.55, .45, .75))) / .75, 0., 1.25);
  vec3 c = wood;
  if (z < -1e-3) {
    float deep = clamp(-z / thick, 0., 1.);
    c = mix(vec3(.985,.955,.885), wood * .80, .35 + .65 * sqrt(deep));
    if (z <= -thick + 2. * stepMm) c = vec3(.235,.215,.190);
    if (bands == 1) {
      float b = band(off(p));
      if (b != 0.) c = mix(c, b > 0. ? proudTone(b) : shyTone(-b), .80);
      // shy is hatched as well, so that the two are told apart without colour
      if (b < -.5 && mod(gl_FragCoord.x + gl_FragCoord.y, hatch) < hatch * .2) c *= .72;
      float right = band(off(p + ivec2(d.x, 0))), back = band(off(p + ivec2(0, d.y)));
      if ((b != right || b != back) && max(abs(b), max(abs(right), abs(back))) > 1.5) c *= .55;
    }
  }
  c *= mix(vec3(.60,.47,.34), vec3(1.03,1.02,1.), clamp((light - .46) / .60, 0., 1.));  // shadows on wood are warm
  if (dark == 1) c *= .88;
  colour = vec4(c, 1.);
}`;

export interface Look {
  now_s: number;
  grain_rad: number;
  thick_mm: number;
  dark: boolean;
  bands: boolean;
}

type Uniforms = Record<string, WebGLUniformLocation | null>;

/** Draws on demand only. */
export class Wood {
  private readonly gl: WebGL2RenderingContext;
  private readonly program: WebGLProgram;
  private readonly uniforms: Uniforms = {};
  private readonly textures = new Map<object, [WebGLTexture, WebGLTexture]>();
  private error: WebGLTexture | null = null;
  private asked = 0;

  private constructor(
    private readonly canvas: HTMLCanvasElement,
    gl: WebGL2RenderingContext,
    private readonly arrays: Arrays,
  ) {
    this.gl = gl;
    this.program = linked(gl);
    const buffer = gl.createBuffer();
    gl.bindBuffer(gl.ARRAY_BUFFER, buffer);
    gl.bufferData(gl.ARRAY_BUFFER, new Float32Array([-1, -1, 1, -1, -1, 1, 1, 1]), gl.STATIC_DRAW);
    const at = gl.getAttribLocation(this.program, "at");
    gl.enableVertexAttribArray(at);
    gl.vertexAttribPointer(at, 2, gl.FLOAT, false, 0, 0);
    gl.useProgram(this.program);
    const many = gl.getProgramParameter(this.program, gl.ACTIVE_UNIFORMS) as number;
    for (let k = 0; k < many; k++) {
      const name = gl.getActiveUniform(this.program, k)?.name ?? "";
      this.uniforms[name] = gl.getUniformLocation(this.program, name);
    }
    gl.pixelStorei(gl.UNPACK_ALIGNMENT, 1);
    const { rows, columns } = arrays.maps;
    this.error = texture(gl, gl.R16I, gl.SHORT, arrays.error, columns, rows);
  }

  /** Null where the browser has no WebGL 2. */
  static on(canvas: HTMLCanvasElement, arrays: Arrays): Wood | null {
    const gl = canvas.getContext("webgl2", { antialias: false, alpha: false, preserveDrawingBuffer: true });
    return gl ? new Wood(canvas, gl, arrays) : null;
  }

  /** Draws the board at a moment, once its keyframes are there. */
  async draw(look: Look): Promise<void> {
    const asked = ++this.asked;
    const { maps } = this.arrays;
    const number = keyframeAt(maps.keyframes, look.now_s);
    const [layer, before] = await Promise.all([
      this.arrays.layer(number),
      number > 0 ? this.arrays.layer(number - 1) : null,
    ]);
    if (asked !== this.asked) return;
    const gl = this.gl;
    const ratio = Math.min(devicePixelRatio, 2);
    const [width, height] = [this.canvas.clientWidth, this.canvas.clientHeight].map((n) => Math.max(1, Math.round(n * ratio)));
    if (this.canvas.width !== width || this.canvas.height !== height) {
      this.canvas.width = width ?? 1;
      this.canvas.height = height ?? 1;
    }
    gl.viewport(0, 0, this.canvas.width, this.canvas.height);
    const [ht, tt] = this.texturesOf(layer);
    const [bt, btt] = before ? this.texturesOf(before) : [ht, tt];
    [bt, ht, this.error, btt, tt].forEach((one, unit) => {
      gl.activeTexture(gl.TEXTURE0 + unit);
      gl.bindTexture(gl.TEXTURE_2D, one);
    });
    const u = this.uniforms;
    const set = (name: string, value: number) => gl.uniform1f(u[name] ?? null, value);
    const whole = (name: string, value: number) => gl.uniform1i(u[name] ?? null, value);
    ["before", "height", "error", "beforeTime", "time"].forEach(whole);
    gl.uniform2f(u["board"] ?? null, maps.board_mm[0], maps.board_mm[1]);
    gl.uniform2f(u["corner"] ?? null, maps.corner_mm[0], maps.corner_mm[1]);
    set("cell", maps.cell_mm);
    set("zero", maps.height.zero_mm);
    set("stepMm", maps.height.step_mm);
    set("errorStep", maps.error.step_mm);
    set("tolerance", maps.tolerance_mm);
    set("thick", look.thick_mm);
    set("now", look.now_s / maps.time.step_s + 0.5);
    set("grain", look.grain_rad);
    set("hatch", 7 * ratio);
    set("mmPerPx", maps.board_mm[0] / this.canvas.width);
    whole("untouched", maps.error.untouched);
    whole("never", maps.time.never);
    whole("dark", look.dark ? 1 : 0);
    whole("bands", look.bands ? 1 : 0);
    whole("hasBefore", before ? 1 : 0);
    gl.drawArrays(gl.TRIANGLE_STRIP, 0, 4);
  }

  private texturesOf(layer: Layer): [WebGLTexture, WebGLTexture] {
    let found = this.textures.get(layer);
    if (!found) {
      const gl = this.gl;
      const { rows, columns } = this.arrays.maps;
      found = [
        texture(gl, gl.R16I, gl.SHORT, layer.height, columns, rows),
        texture(gl, gl.R16UI, gl.UNSIGNED_SHORT, layer.time, columns, rows),
      ];
      this.textures.set(layer, found);
    }
    return found;
  }
}

function texture(
  gl: WebGL2RenderingContext,
  kind: number,
  type: number,
  values: ArrayBufferView,
  width: number,
  height: number,
): WebGLTexture {
  const made = gl.createTexture();
  gl.bindTexture(gl.TEXTURE_2D, made);
  gl.texImage2D(gl.TEXTURE_2D, 0, kind, width, height, 0, gl.RED_INTEGER, type, values);
  for (const key of [gl.TEXTURE_MIN_FILTER, gl.TEXTURE_MAG_FILTER]) gl.texParameteri(gl.TEXTURE_2D, key, gl.NEAREST);
  return made;
}

function linked(gl: WebGL2RenderingContext): WebGLProgram {
  const program = gl.createProgram();
  for (const [kind, text] of [
    [gl.VERTEX_SHADER, VERTEX],
    [gl.FRAGMENT_SHADER, FRAGMENT],
  ] as const) {
    const shader = gl.createShader(kind);
    if (!shader) throw new Error("the picture cannot be drawn here");
    gl.shaderSource(shader, text);
    gl.compileShader(shader);
    if (!gl.getShaderParameter(shader, gl.COMPILE_STATUS)) throw new Error(gl.getShaderInfoLog(shader) ?? "");
    gl.attachShader(program, shader);
  }
  gl.linkProgram(program);
  return program;
}
