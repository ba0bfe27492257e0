import { defineConfig } from "vitest/config";

// Built beside the server that hands it out; not committed, shipped in the wheel.
export default defineConfig({
  base: "./",
  build: {
    outDir: "../src/kerfwright/app/page/static",
    emptyOutDir: true,
    target: "es2022",
    assetsInlineLimit: 0,
    modulePreload: { polyfill: false },
    chunkSizeWarningLimit: 800,
  },
  test: { include: ["src/**/*.test.ts"] },
});
