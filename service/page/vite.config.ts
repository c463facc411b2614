import { defineConfig } from "vite";

export default defineConfig({
  base: "/",
  build: { outDir: "dist", emptyOutDir: true, chunkSizeWarningLimit: 900, modulePreload: { polyfill: false } },
});
