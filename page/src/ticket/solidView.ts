// The height field as a texture under flat grids of four fineness, drawn on demand.

import {
  BufferAttribute,
  BufferGeometry,
  Color,
  DataTexture,
  DoubleSide,
  GLSL3,
  Group,
  LinearSRGBColorSpace,
  Mesh,
  NearestFilter,
  OrthographicCamera,
  RedIntegerFormat,
  Scene,
  ShaderMaterial,
  ShortType,
  UnsignedShortType,
  Vector2,
  WebGLRenderer,
} from "three";
import { OrbitControls } from "three/addons/controls/OrbitControls.js";
import type { BoardFacts, Maps } from "../wire";
import type { Layer } from "./arrays";

const TILE = 128;
const STEPS = [1, 2, 4, 8, 16] as const;
const MOST_MOVING = 150_000; // triangles while it moves
const MOST_STILL = 1_200_000;
const AFTER_MS = 200;

// The top at a moment: as cut in this keyframe, else as the one before left it, else the board's own.
const TOP = `
uniform highp isampler2D height, before; uniform highp usampler2D time, beforeTime;
uniform vec2 size; uniform float cell, zero, stepMm, now; uniform int never, hasBefore;
float H(ivec2 p) {
  p = clamp(p, ivec2(0), ivec2(size) - 1); uint t = texelFetch(time, p, 0).r;
  if (t != uint(never) && float(t) <= now) return zero + stepMm * float(texelFetch(height, p, 0).r);
  if (hasBefore == 1 && texelFetch(beforeTime, p, 0).r != uint(never)) return zero + stepMm * float(texelFetch(before, p, 0).r);
  return 0.;
}`;

const VERTEX = `
uniform vec2 org, corner; out vec2 g; out float z;
${TOP}
void main() {
  g = min(position.xy + org, size - 1.);
  z = H(ivec2(g));
  vec2 rim = .5 + .5 * (step(size - 1., g) - step(g, vec2(0.)));  // the outermost reach the edge of their cells
  gl_Position = projectionMatrix * modelViewMatrix * vec4(corner + (g + rim) * cell, z, 1.);
}`;
const FRAGMENT = `
precision highp float; precision highp int; precision highp isampler2D; precision highp usampler2D;
uniform float thick; uniform int stride; in vec2 g; in float z; out vec4 o;
${TOP}
void main() {
  ivec2 p = ivec2(g + .5);
  vec2 fall = vec2(H(p - ivec2(1,0)) - H(p + ivec2(1,0)), H(p - ivec2(0,1)) - H(p + ivec2(0,1)));
  float run = 2. * cell;
  // A wall, which a coarse grid stretches over cells beside it: lit by the way it runs, not by the steps of its cells.
  if (max(abs(fall.x), abs(fall.y)) > 6. * cell || abs(z - H(p)) > 2. * cell) {
    fall = vec2(0.);
    for (int j = -2; j <= 2; j++) for (int i = 1; i <= 2; i++)
      fall += vec2(H(p + stride * ivec2(-i, j)) - H(p + stride * ivec2(i, j)), H(p + stride * ivec2(j, -i)) - H(p + stride * ivec2(j, i))) / 5.;
    run = cell;
  }
  vec3 n = normalize(vec3(fall, run));
  // through only where all corners are: a wall then stands whole
  if (z <= -thick + 2. * stepMm) discard;
  vec3 wood = mix(vec3(.90,.81,.63), vec3(.80,.68,.475), clamp(sqrt(max(-z, 0.) / thick), 0., 1.));
  o = vec4(wood * (.42 + .58 * max(0., dot(n, normalize(vec3(-.5, -.3, .8))))), 1.);
}`;

export class SolidView {
  private readonly renderer: WebGLRenderer;
  private readonly scene = new Scene();
  private readonly camera: OrthographicCamera;
  private readonly controls: OrbitControls;
  private readonly grids = STEPS.map(grid);
  private readonly tiles: Mesh[] = [];
  private readonly shared;
  private readonly watch: ResizeObserver;
  private waiting = 0;
  private frame = 0;
  private textures: DataTexture[] = [];
  private shown: Layer | null = null;

  constructor(
    private readonly canvas: HTMLCanvasElement,
    private readonly maps: Maps,
    board: BoardFacts,
  ) {
    this.renderer = new WebGLRenderer({ canvas, antialias: true });
    this.scene.background = new Color(getComputedStyle(canvas).backgroundColor || "#f7f4ec");
    const [long, wide, thick] = board.size_mm;
    const reach = Math.hypot(long, wide);
    this.camera = new OrthographicCamera(-1, 1, 1, -1, -4 * reach, 4 * reach);
    this.camera.up.set(0, 0, 1);
    this.camera.position.set(long / 2 - 0.35 * reach, wide / 2 - 0.75 * reach, 0.7 * reach);
    this.controls = new OrbitControls(this.camera, canvas);
    this.controls.target.set(long / 2, wide / 2, -thick / 2);
    this.controls.addEventListener("change", () => this.moved());
    this.shared = {
      height: { value: null as DataTexture | null },
      time: { value: null as DataTexture | null },
      before: { value: null as DataTexture | null },
      beforeTime: { value: null as DataTexture | null },
      hasBefore: { value: 0 },
      size: { value: new Vector2(maps.columns, maps.rows) },
      corner: { value: new Vector2(...maps.corner_mm) },
      cell: { value: maps.cell_mm },
      zero: { value: maps.height.zero_mm },
      stepMm: { value: maps.height.step_mm },
      now: { value: 65534 },
      thick: { value: thick },
      never: { value: maps.time.never },
      stride: { value: 1 },
    };
    this.fill();
    this.scene.add(sides(board, maps));
    this.watch = new ResizeObserver(() => this.sized(reach));
    this.watch.observe(canvas);
    this.sized(reach);
    this.controls.update();
  }

  /** The board at a moment, within a keyframe and on what the one before left. Uploads only another keyframe. */
  show(layer: Layer, before: Layer | null, now: number): void {
    if (layer !== this.shown) {
      this.textures.forEach((one) => one.dispose());
      const [height, time] = this.pair(layer);
      const [earlier, earlierTime] = before ? this.pair(before) : [height, time];
      this.textures = [...new Set([height, time, earlier, earlierTime])];
      this.shared.height.value = height;
      this.shared.time.value = time;
      this.shared.before.value = earlier;
      this.shared.beforeTime.value = earlierTime;
      this.shared.hasBefore.value = before ? 1 : 0;
      this.shown = layer;
    }
    this.shared.now.value = now;
    this.moved();
  }

  private pair(layer: Layer): [DataTexture, DataTexture] {
    const { columns, rows } = this.maps;
    const height = new DataTexture(layer.height, columns, rows, RedIntegerFormat, ShortType);
    height.internalFormat = "R16I";
    const time = new DataTexture(layer.time, columns, rows, RedIntegerFormat, UnsignedShortType);
    time.internalFormat = "R16UI";
    for (const one of [height, time]) {
      one.minFilter = one.magFilter = NearestFilter;
      one.unpackAlignment = 1;
      one.needsUpdate = true;
    }
    return [height, time];
  }

  /** Turns by an arrow key, comes nearer by plus and minus. */
  key(name: string): boolean {
    const turn = { ArrowLeft: [0.08, 0], ArrowRight: [-0.08, 0], ArrowUp: [0, -0.06], ArrowDown: [0, 0.06] }[name];
    if (turn) {
      const from = this.camera.position.clone().sub(this.controls.target);
      const flat = Math.hypot(from.x, from.y);
      const side = Math.atan2(from.y, from.x) + (turn[0] ?? 0);
      const up = Math.min(1.5, Math.max(0.08, Math.atan2(from.z, flat) - (turn[1] ?? 0)));
      const far = from.length();
      from.set(far * Math.cos(up) * Math.cos(side), far * Math.cos(up) * Math.sin(side), far * Math.sin(up));
      this.camera.position.copy(this.controls.target).add(from);
    } else if (name === "+" || name === "-") {
      this.camera.zoom = Math.min(12, Math.max(0.5, this.camera.zoom * (name === "+" ? 1.15 : 1 / 1.15)));
      this.camera.updateProjectionMatrix();
    } else return false;
    this.controls.update();
    this.moved();
    return true;
  }

  end(): void {
    clearTimeout(this.waiting);
    cancelAnimationFrame(this.frame);
    this.watch.disconnect();
    this.controls.dispose();
    this.textures.forEach((one) => one.dispose());
    this.renderer.dispose();
  }

  private moved(): void {
    clearTimeout(this.waiting);
    // Counted from the coarse picture on: where that takes long, the fine one must not come between.
    this.draw(MOST_MOVING, () => {
      this.waiting = window.setTimeout(() => this.draw(MOST_STILL), AFTER_MS);
    });
  }

  private draw(most: number, then?: () => void): void {
    const cells = 2 * this.maps.columns * this.maps.rows;
    const level = STEPS.findIndex((step) => cells / step ** 2 <= most);
    const fine = level < 0 ? STEPS.length - 1 : level;
    this.shared.stride.value = STEPS[fine] ?? 1;
    const chosen = this.grids[fine];
    if (chosen) for (const tile of this.tiles) tile.geometry = chosen;
    cancelAnimationFrame(this.frame);
    this.frame = requestAnimationFrame(() => {
      this.renderer.render(this.scene, this.camera);
      this.canvas.dataset["triangles"] = String(this.renderer.info.render.triangles);
      then?.();
    });
  }

  private sized(reach: number): void {
    const { clientWidth: width, clientHeight: height } = this.canvas;
    if (!width || !height) return;
    this.renderer.setPixelRatio(Math.min(devicePixelRatio, 2));
    this.renderer.setSize(width, height, false);
    const half = 0.56 * reach;
    const tall = Math.max(half * 0.72, (half * height) / width);
    Object.assign(this.camera, { left: (-tall * width) / height, right: (tall * width) / height, top: tall, bottom: -tall });
    this.camera.updateProjectionMatrix();
    this.moved();
  }

  private fill(): void {
    for (let row = 0; row < this.maps.rows; row += TILE)
      for (let column = 0; column < this.maps.columns; column += TILE) {
        const uniforms = { ...this.shared, org: { value: new Vector2(column, row) } };
        const material = new ShaderMaterial({ glslVersion: GLSL3, uniforms, vertexShader: VERTEX, fragmentShader: FRAGMENT, side: DoubleSide });
        const tile = new Mesh(this.grids[0], material);
        tile.frustumCulled = false;
        this.tiles.push(tile);
        this.scene.add(tile);
      }
  }
}

function grid(step: number): BufferGeometry {
  const side = TILE / step;
  const across = side + 1;
  const places = new Float32Array(across * across * 3);
  for (let j = 0; j < across; j++)
    for (let i = 0; i < across; i++) {
      places[3 * (j * across + i)] = i * step;
      places[3 * (j * across + i) + 1] = j * step;
    }
  const index = new Uint16Array(side * side * 6);
  let k = 0;
  for (let j = 0; j < side; j++)
    for (let i = 0; i < side; i++) {
      const a = j * across + i;
      for (const corner of [a, a + 1, a + across + 1, a, a + across + 1, a + across]) index[k++] = corner;
    }
  const made = new BufferGeometry();
  made.setAttribute("position", new BufferAttribute(places, 3));
  made.setIndex(new BufferAttribute(index, 1));
  return made;
}

/** What the maps do not cover: the rest of the top, and the four sides. */
function sides(board: BoardFacts, maps: Maps): Group {
  const [long, wide, thick] = board.size_mm;
  const [x0, y0] = maps.corner_mm;
  const x1 = Math.min(long, x0 + maps.columns * maps.cell_mm);
  const y1 = Math.min(wide, y0 + maps.rows * maps.cell_mm);
  const group = new Group();
  const face = (corners: [number, number, number][], tone: string) => {
    const made = new BufferGeometry();
    made.setAttribute("position", new BufferAttribute(new Float32Array(corners.flat()), 3));
    made.setIndex([0, 1, 2, 0, 2, 3]);
    const material = new ShaderMaterial({
      glslVersion: GLSL3,
      uniforms: { tone: { value: new Color().setStyle(tone, LinearSRGBColorSpace) } },
      vertexShader: "void main() { gl_Position = projectionMatrix * modelViewMatrix * vec4(position, 1.); }",
      fragmentShader: "precision highp float; uniform vec3 tone; out vec4 o; void main() { o = vec4(tone, 1.); }",
      side: DoubleSide,
    });
    group.add(new Mesh(made, material));
  };
  const flat = (a: number, b: number, c: number, d: number) => {
    if (c > a && d > b) face([[a, b, 0], [c, b, 0], [c, d, 0], [a, d, 0]], "#ccb88f");
  };
  flat(0, 0, long, y0);
  flat(0, y1, long, wide);
  flat(0, y0, x0, y1);
  flat(x1, y0, long, y1);
  const wall = (a: [number, number], b: [number, number], tone: string) =>
    face([[...a, 0], [...b, 0], [...b, -thick], [...a, -thick]], tone);
  wall([0, 0], [long, 0], "#8f8162");
  wall([long, 0], [long, wide], "#85785a");
  wall([0, 0], [0, wide], "#a29271");
  wall([0, wide], [long, wide], "#7c7054");
  return group;
}
