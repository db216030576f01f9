// Lays out a graph with ELK's layered algorithm: reads ELK's JSON from a file, writes it with places to another and says
// on standard output how long the layout alone took. `elkjs` is looked for in the working folder.
//
//     node elk.mjs GRAPH.json PLACED.json

import { readFileSync, writeFileSync } from "node:fs";
import { createRequire } from "node:module";
import { join } from "node:path";
import { performance } from "node:perf_hooks";

const { default: Elk } = await import(createRequire(join(process.cwd(), "package.json")).resolve("elkjs/lib/elk.bundled.js"));
const [graph, placed] = process.argv.slice(2);
const read = JSON.parse(readFileSync(graph, "utf8"));
const begin = performance.now();
const laidOut = await new Elk().layout(read);
const seconds = (performance.now() - begin) / 1000;
writeFileSync(placed, JSON.stringify(laidOut));
console.log(JSON.stringify({ seconds }));
