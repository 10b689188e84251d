"use strict";
// The report page: layers on a canvas, panels in three dimensions. Nothing is fetched.
(() => {
  const data = JSON.parse(document.getElementById("report-data").textContent);
  const at = (id) => document.getElementById(id);
  const colour = (name) => getComputedStyle(document.documentElement).getPropertyValue("--" + name).trim();

  const inflated = async (text) => {
    const packed = Uint8Array.from(atob(text), (sign) => sign.charCodeAt(0));
    const stream = new Blob([packed]).stream().pipeThrough(new DecompressionStream("gzip"));
    return await new Response(stream).arrayBuffer();
  };

  // ---- layers -------------------------------------------------------------------------------------------

  const unpackLayers = async (part) => {
    const bytes = await inflated(part.data);
    const perLayer = new Uint16Array(bytes.slice(0, 2 * part.layers));
    const sizesAt = 2 * part.layers;
    const sizes = new Uint32Array(bytes.slice(sizesAt, sizesAt + 4 * part.rings));
    const movesAt = sizesAt + 4 * part.rings;
    const dx = new Int16Array(bytes.slice(movesAt, movesAt + 2 * part.points));
    const dy = new Int16Array(bytes.slice(movesAt + 2 * part.points, movesAt + 4 * part.points));
    const firstRing = new Uint32Array(part.layers + 1);
    for (let layer = 0; layer < part.layers; layer++) firstRing[layer + 1] = firstRing[layer] + perLayer[layer];
    const firstPoint = new Uint32Array(part.rings + 1);
    for (let ring = 0; ring < part.rings; ring++) firstPoint[ring + 1] = firstPoint[ring] + sizes[ring];
    return { dx, dy, firstRing, firstPoint };
  };

  const ringsOf = (part, layer) => {
    const { dx, dy, firstRing, firstPoint } = part.unpacked;
    const rings = [];
    for (let ring = firstRing[layer]; ring < firstRing[layer + 1]; ring++) {
      const first = firstPoint[ring], count = firstPoint[ring + 1] - first;
      const x = new Float64Array(count), y = new Float64Array(count);
      let across = 0, up = 0;
      for (let point = 0; point < count; point++) {
        across += dx[first + point];
        up += dy[first + point];
        x[point] = part.origin_mm[0] + across * part.unit_mm;
        y[point] = part.origin_mm[1] + up * part.unit_mm;
      }
      rings.push({ x, y });
    }
    return rings;
  };

  const lengthOf = (rings) => {
    let total = 0;
    for (const { x, y } of rings)
      for (let k = 0; k < x.length; k++) {
        const next = (k + 1) % x.length;
        total += Math.hypot(x[next] - x[k], y[next] - y[k]);
      }
    return total;
  };

  const canvas = at("layer-canvas"), pen = canvas.getContext("2d");
  const state = { part: data.parts[0], layer: 0, scale: 1, x: 0, y: 0, fitted: true };

  const zOf = (part, layer) => part.first_z_mm + layer * part.layer_mm;

  const fit = () => {
    const [left, low, right, high] = state.part.bounds_mm;
    const room = 26, bead = state.part.bead_mm;
    const wide = right - left + 2 * bead, tall = high - low + 2 * bead;
    state.scale = Math.min((canvas.clientWidth - 2 * room) / wide, (canvas.clientHeight - 2 * room) / tall);
    state.x = 0.5 * (left + right);
    state.y = 0.5 * (low + high);
    state.fitted = true;
  };

  const px = (x, y) => [
    0.5 * canvas.clientWidth + (x - state.x) * state.scale,
    0.5 * canvas.clientHeight - (y - state.y) * state.scale,
  ];

  const trace = (rings) => {
    pen.beginPath();
    for (const { x, y } of rings) {
      for (let k = 0; k < x.length; k++) {
        const spot = px(x[k], y[k]);
        if (k) pen.lineTo(spot[0], spot[1]);
        else pen.moveTo(spot[0], spot[1]);
      }
      pen.closePath();
    }
  };

  const drawScale = () => {
    const long = 0.3 * canvas.clientWidth / state.scale;
    const power = Math.pow(10, Math.floor(Math.log10(long)));
    const length = [5, 2, 1].map((lead) => lead * power).find((value) => value <= long) || power;
    const end = canvas.clientWidth - 12, y = canvas.clientHeight - 12, start = end - length * state.scale;
    pen.strokeStyle = pen.fillStyle = colour("ink");
    pen.lineWidth = 2;
    pen.beginPath();
    pen.moveTo(start, y - 5); pen.lineTo(start, y); pen.lineTo(end, y); pen.lineTo(end, y - 5);
    pen.stroke();
    pen.font = "12px Helvetica, Arial, sans-serif";
    pen.textAlign = "right";
    pen.fillText(`${Number(length.toPrecision(1))} mm`, start - 6, y);
  };

  const drawStart = (ring) => {
    if (!ring || ring.x.length < 2) return;
    const start = px(ring.x[0], ring.y[0]);
    let ahead = 0, spot = start, before = start;
    for (let k = 1; k < ring.x.length && ahead < 16; k++) {
      before = spot;
      spot = px(ring.x[k], ring.y[k]);
      ahead += Math.hypot(spot[0] - before[0], spot[1] - before[1]);
    }
    const turn = Math.atan2(spot[1] - before[1], spot[0] - before[0]);
    pen.save();
    pen.translate(spot[0], spot[1]);
    pen.rotate(turn);
    pen.fillStyle = colour("ink");
    pen.strokeStyle = colour("ground");
    pen.lineWidth = 2;
    pen.beginPath();
    pen.moveTo(8, 0); pen.lineTo(-6, 6); pen.lineTo(-3, 0); pen.lineTo(-6, -6); pen.closePath();
    pen.stroke(); pen.fill();
    pen.restore();
    pen.beginPath();
    pen.arc(start[0], start[1], 5, 0, 2 * Math.PI);
    pen.fillStyle = colour("ink");
    pen.strokeStyle = colour("ground");
    pen.lineWidth = 2;
    pen.fill(); pen.stroke();
  };

  const concerns = (finding) => {
    if (finding.panel !== state.part.name || !finding.layers) return false;
    const number = state.layer + 1;
    return finding.layers[0] <= number && number <= finding.layers[1] || finding.layer === number;
  };

  const drawFindings = (found) => {
    let marked = 0;
    found.forEach((finding, number) => {
      if (finding.x_mm === null || finding.y_mm === null) return;
      if (finding.layer !== state.layer + 1 && finding.severity === "note") return;
      const spot = px(finding.x_mm, finding.y_mm);
      pen.beginPath();
      pen.strokeStyle = colour(finding.severity);
      pen.setLineDash(finding.severity === "note" ? [3, 3] : finding.severity === "warning" ? [7, 3] : []);
      pen.lineWidth = 3;
      pen.arc(spot[0], spot[1], 13, 0, 2 * Math.PI);
      pen.stroke();
      pen.setLineDash([]);
      pen.fillStyle = colour(finding.severity);
      pen.font = "bold 14px Helvetica, Arial, sans-serif";
      pen.textAlign = "left";
      pen.fillText(String(number + 1), spot[0] + 15, spot[1] - 8);
      marked++;
    });
    return marked;
  };

  const draw = () => {
    const ratio = window.devicePixelRatio || 1;
    const width = Math.round(canvas.clientWidth * ratio), height = Math.round(canvas.clientHeight * ratio);
    if (canvas.width !== width || canvas.height !== height) {
      canvas.width = width;
      canvas.height = height;
    }
    pen.setTransform(ratio, 0, 0, ratio, 0, 0);
    pen.clearRect(0, 0, canvas.clientWidth, canvas.clientHeight);
    if (!state.part || !state.part.unpacked) return;
    if (state.fitted) fit();
    const rings = ringsOf(state.part, state.layer);
    pen.lineJoin = "round";
    trace(rings);
    pen.strokeStyle = colour("bead");
    const bead = state.part.bead_mm * state.scale;
    pen.lineWidth = Math.max(bead, 1.4);
    pen.stroke();
    if (bead > 3) {
      pen.strokeStyle = colour("centre");
      pen.lineWidth = Math.min(1.2, 0.25 * bead);
      pen.stroke();
    }
    if (at("show-below").checked && state.layer > 0) {
      trace(ringsOf(state.part, state.layer - 1));
      pen.strokeStyle = colour("error");
      pen.lineWidth = 1;
      pen.setLineDash([4, 3]);
      pen.stroke();
      pen.setLineDash([]);
    }
    drawStart(rings[0]);
    const found = data.findings.filter(concerns);
    const marked = drawFindings(found);
    drawScale();
    describe(rings, found, marked);
  };

  const describe = (rings, found, marked) => {
    const part = state.part, start = rings[0];
    const words = [
      `${part.name}, layer ${state.layer + 1} of ${part.layers}`,
      `z ${zOf(part, state.layer).toFixed(3)} mm`,
      `path ${lengthOf(rings).toFixed(1)} mm`,
      rings.length === 1 ? "one ring" : `${rings.length} rings`,
    ];
    if (start) words.push(`start x ${start.x[0].toFixed(2)}, y ${start.y[0].toFixed(2)} mm`);
    at("layer-readout").textContent = words.join("; ");
    canvas.setAttribute("aria-label", `Path: ${words.join("; ")}; ${found.length} findings`);
    canvas.dataset.marked = marked;
    canvas.dataset.layer = state.layer + 1;
    const list = at("layer-findings");
    list.replaceChildren();
    found.forEach((finding, number) => {
      const line = document.createElement("li");
      const away = finding.layer === state.layer + 1 ? "" : ` (worst on layer ${finding.layer})`;
      line.textContent = `${number + 1}. ${finding.severity} ${finding.code}: ${finding.message}${away}`;
      list.append(line);
    });
    if (!found.length) {
      const line = document.createElement("li");
      line.textContent = "Nothing was found on this layer.";
      list.append(line);
    }
  };

  let asked = false;
  const redraw = () => {
    if (asked) return;
    asked = true;
    requestAnimationFrame(() => { asked = false; draw(); });
  };

  const jumps = data.findings.filter((one) => one.panel !== null && one.layer !== null);
  const order = (name) => data.parts.findIndex((part) => part.name === name);
  jumps.sort((a, b) => order(a.panel) - order(b.panel) || a.layer - b.layer);

  const show = async (part, layer) => {
    if (!part.unpacked) part.unpacked = await unpackLayers(part);
    if (part !== state.part) state.fitted = true;
    state.part = part;
    state.layer = Math.max(0, Math.min(part.layers - 1, layer));
    at("layer-part").value = part.name;
    for (const id of ["layer-slider", "layer-number"]) {
      at(id).max = part.layers;
      at(id).value = state.layer + 1;
    }
    at("layer-slider").setAttribute("aria-valuetext", `layer ${state.layer + 1} of ${part.layers}`);
    redraw();
  };
  const step = (by) => show(state.part, state.layer + by);

  const jump = (way) => {
    if (!jumps.length) return;
    const here = order(state.part.name);
    const after = (one) => order(one.panel) - here || one.layer - 1 - state.layer;
    const ahead = way > 0 ? jumps.filter((one) => after(one) > 0) : jumps.filter((one) => after(one) < 0);
    const next = way > 0 ? ahead[0] || jumps[0] : ahead[ahead.length - 1] || jumps[jumps.length - 1];
    go(next.panel, next.layer, next);
  };

  const go = async (name, layer, finding) => {
    const part = data.parts.find((one) => one.name === name);
    if (!part) return;
    await show(part, layer - 1);
    if (finding && finding.x_mm !== null && finding.y_mm !== null) {
      state.x = finding.x_mm;
      state.y = finding.y_mm;
      state.scale = Math.max(state.fitted ? 0 : state.scale, 9 / part.bead_mm);
      state.fitted = false;
      redraw();
    }
  };

  const zoom = (factor, spot) => {
    const [x, y] = spot || [0.5 * canvas.clientWidth, 0.5 * canvas.clientHeight];
    const [midX, midY] = [x - 0.5 * canvas.clientWidth, 0.5 * canvas.clientHeight - y];
    const before = state.scale;
    state.scale = Math.max(0.2, Math.min(400, before * factor));
    state.x += midX * (1 / before - 1 / state.scale);
    state.y += midY * (1 / before - 1 / state.scale);
    state.fitted = false;
    redraw();
  };

  const fingers = new Map();
  const spread = () => {
    const [one, two] = [...fingers.values()];
    return Math.hypot(one.x - two.x, one.y - two.y);
  };
  canvas.addEventListener("pointerdown", (event) => {
    canvas.setPointerCapture(event.pointerId);
    fingers.set(event.pointerId, { x: event.offsetX, y: event.offsetY });
  });
  canvas.addEventListener("pointermove", (event) => {
    const before = fingers.get(event.pointerId);
    if (!before) return;
    if (fingers.size === 1) {
      state.x -= (event.offsetX - before.x) / state.scale;
      state.y += (event.offsetY - before.y) / state.scale;
      state.fitted = false;
      redraw();
    }
    const wide = fingers.size === 2 ? spread() : 0;
    fingers.set(event.pointerId, { x: event.offsetX, y: event.offsetY });
    if (wide > 0) {
      const [one, two] = [...fingers.values()];
      zoom(spread() / wide, [0.5 * (one.x + two.x), 0.5 * (one.y + two.y)]);
    }
  });
  for (const kind of ["pointerup", "pointercancel"])
    canvas.addEventListener(kind, (event) => fingers.delete(event.pointerId));
  canvas.addEventListener("wheel", (event) => {
    event.preventDefault();
    zoom(Math.exp(-0.0015 * event.deltaY), [event.offsetX, event.offsetY]);
  }, { passive: false });

  const keys = {
    ArrowLeft: () => step(-1), ArrowRight: () => step(1), PageDown: () => step(-10), PageUp: () => step(10),
    Home: () => show(state.part, 0), End: () => show(state.part, state.part.layers - 1),
    n: () => jump(1), p: () => jump(-1), "+": () => zoom(1.4), "-": () => zoom(1 / 1.4),
    "0": () => { state.fitted = true; redraw(); },
  };
  canvas.addEventListener("keydown", (event) => {
    if (event.ctrlKey || event.altKey || event.metaKey || !keys[event.key]) return;
    event.preventDefault();
    keys[event.key]();
  });

  const startLayers = () => {
    if (!data.parts.length) {
      at("layer-readout").textContent = "There is no layer to show.";
      return;
    }
    if (typeof DecompressionStream === "undefined") {
      at("layer-readout").textContent =
        "This view needs a browser of 2023 or newer. All else on this page works without.";
      return;
    }
    for (const part of data.parts) {
      const choice = document.createElement("option");
      choice.value = choice.textContent = part.name;
      at("layer-part").append(choice);
    }
    at("layer-part").addEventListener("change", (event) => {
      const part = data.parts.find((one) => one.name === event.target.value);
      show(part, Math.floor(0.5 * part.layers));
    });
    at("layer-slider").addEventListener("input", (event) => show(state.part, Number(event.target.value) - 1));
    at("layer-number").addEventListener("change", (event) =>
      show(state.part, Math.round(Number(event.target.value) || 1) - 1));
    at("layer-back").addEventListener("click", () => step(-1));
    at("layer-on").addEventListener("click", () => step(1));
    at("finding-back").addEventListener("click", () => jump(-1));
    at("finding-on").addEventListener("click", () => jump(1));
    at("finding-back").disabled = at("finding-on").disabled = !jumps.length;
    at("zoom-in").addEventListener("click", () => zoom(1.4));
    at("zoom-out").addEventListener("click", () => zoom(1 / 1.4));
    at("zoom-fit").addEventListener("click", () => { state.fitted = true; redraw(); });
    at("show-below").addEventListener("change", redraw);
    for (const button of document.querySelectorAll("button[data-part]"))
      button.addEventListener("click", () => {
        const [name, layer] = [button.dataset.part, Number(button.dataset.layer)];
        go(name, layer, data.findings[Number(button.dataset.number)]);
        at("layers").scrollIntoView();
        canvas.focus({ preventScroll: true });
      });
    window.addEventListener("resize", redraw);
    // paper does not wait for the next frame
    for (const query of ["(prefers-color-scheme: dark)", "print"])
      matchMedia(query).addEventListener("change", draw);
    show(data.parts[0], data.first_layer);
  };

  // ---- three dimensions ---------------------------------------------------------------------------------

  const shade = { skin: "bead", ribs: "fused", fittings: "cut" };
  const solid = { traces: [], view: at("solid-view") };

  const unpackSolid = async (mesh) => {
    const bytes = await inflated(mesh.data);
    const count = mesh.corners, corners = new Uint16Array(bytes.slice(0, 6 * count));
    const axis = (number) => Float32Array.from(
      corners.subarray(number * count, (number + 1) * count), (value) => mesh.low_mm[number] + value * mesh.unit_mm);
    const [x, y, z] = [axis(0), axis(1), axis(2)];
    const steps = new Int32Array(bytes.slice(6 * count));
    const traces = [];
    let place = 0, corner = 0;
    for (const [kind, triangles] of mesh.kinds) {
      const [i, j, k] = [new Int32Array(triangles), new Int32Array(triangles), new Int32Array(triangles)];
      for (let triangle = 0; triangle < triangles; triangle++) {
        i[triangle] = corner += steps[place++];
        j[triangle] = corner += steps[place++];
        k[triangle] = corner += steps[place++];
      }
      // out to the right, fore away, up is up: seen so, the left panel's coordinates show the right one
      traces.push({
        type: "mesh3d", name: `${mesh.name} ${kind}`, kind, x: z, y: x.map((value) => -value), z: y, i, j, k,
        color: colour(shade[kind]), opacity: kind === "skin" ? 0.28 : 1, flatshading: true, hoverinfo: "skip",
        lighting: { ambient: 0.55, diffuse: 0.7, specular: 0.08 }, showscale: false,
      });
    }
    return traces;
  };

  const eyes = {
    corner: { eye: { x: -0.9, y: -1.9, z: 1.1 } }, above: { eye: { x: 0, y: -0.01, z: 2.1 } },
    below: { eye: { x: 0, y: -0.01, z: -2.1 } }, root: { eye: { x: -2.2, y: 0, z: 0.25 } },
  };

  const layout = () => {
    const axis = (title) => ({ title: { text: title }, color: colour("axis"), gridcolor: colour("ghost"),
      showbackground: false, zeroline: false });
    return {
      margin: { l: 0, r: 0, t: 0, b: 0 }, showlegend: false, paper_bgcolor: colour("ground"), uirevision: "kept",
      scene: { aspectmode: "data", camera: eyes.corner, bgcolor: colour("ground"),
        xaxis: axis("span [mm]"), yaxis: { ...axis("fore [mm]"), nticks: 4 }, zaxis: { ...axis("up [mm]"), nticks: 3 } },
    };
  };

  const noSolid = (words) => {
    at("solid-section").classList.add("no-solid");
    const line = document.createElement("p");
    line.textContent = words;
    at("solid-section").append(line);
  };

  const startSolid = async () => {
    at("solid-start").disabled = true;
    at("solid-start").textContent = "one moment";
    try {
      const code = new TextDecoder().decode(await inflated(at("solid-library").textContent));
      const script = document.createElement("script");
      script.textContent = code;
      document.head.append(script);
      for (const mesh of data.solids) solid.traces.push(...await unpackSolid(mesh));
      solid.view.replaceChildren();
      await Plotly.newPlot(solid.view, solid.traces, layout(), { displaylogo: false, responsive: true,
        modeBarButtonsToRemove: ["toImage", "resetCameraLastSave3d", "hoverClosest3d", "orbitRotation"] });
      solid.view.dataset.ready = "yes";
    } catch (fault) {
      noSolid(`The 3-D view cannot run in this browser (${fault.message}); the picture shows the panels instead.`);
      return;
    }
    for (const kind of ["skin", "ribs", "fittings"])
      at(`show-${kind}`).addEventListener("change", (event) => {
        const which = solid.traces.flatMap((one, number) => one.kind === kind ? [number] : []);
        if (which.length) Plotly.restyle(solid.view, { visible: event.target.checked }, which);
      });
    for (const button of document.querySelectorAll("button[data-eye]"))
      button.addEventListener("click", () =>
        Plotly.relayout(solid.view, { "scene.camera": eyes[button.dataset.eye] }));
    matchMedia("(prefers-color-scheme: dark)").addEventListener("change", () => {
      const colours = solid.traces.map((one) => colour(shade[one.kind]));
      Plotly.restyle(solid.view, { color: colours });
      const { scene, paper_bgcolor } = layout();
      Plotly.relayout(solid.view, { paper_bgcolor, "scene.bgcolor": scene.bgcolor, "scene.xaxis": scene.xaxis,
        "scene.yaxis": scene.yaxis, "scene.zaxis": scene.zaxis });
    });
  };

  const prepareSolid = () => {
    if (!data.solids.length || typeof DecompressionStream === "undefined") {
      noSolid(data.solids.length ? "The 3-D view needs a browser of 2023 or newer; the picture shows the panels instead."
        : "There is no 3-D view on this page; the picture shows the panels instead.");
      return;
    }
    at("solid-start").addEventListener("click", startSolid, { once: true });
  };

  startLayers();
  prepareSolid();
})();
