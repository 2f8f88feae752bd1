"use strict";
// Draws the report. Everything it draws is in the element "data"; times are seconds there and hours here.
const report = (() => {
  const data = JSON.parse(document.getElementById("data").textContent);
  const root = document.documentElement;
  const endH = data.end_s / 3600;
  const LEAST_H = Math.min(endH, 2 / 60);
  const narrow = () => root.clientWidth <= 560;
  const charts = []; // everything drawn
  const overTime = []; // those of them with the time axis
  let view = [0, endH];
  let printing = false;
  let setting = false;

  const colour = name => getComputedStyle(root).getPropertyValue("--" + name).trim();
  const font = px => px + "px system-ui, sans-serif";

  // The theme: the system's until the button is pressed; always light on paper.
  const system = matchMedia("(prefers-color-scheme: dark)");
  let chosen = null;
  function paint() {
    root.dataset.theme = printing ? "light" : chosen || (system.matches ? "dark" : "light");
    for (const u of charts) u.redraw(false, true);
  }
  system.addEventListener("change", paint);
  document.getElementById("theme").addEventListener("click", () => {
    chosen = root.dataset.theme === "dark" ? "light" : "dark";
    paint();
    for (const u of charts) refreshMarkers(u);
  });

  function clock(h) {
    const minutes = Math.round(h * 60);
    const two = n => String(n).padStart(2, "0");
    const day = Math.floor(minutes / 1440);
    const time = two(Math.floor(minutes / 60) % 24) + ":" + two(minutes % 60);
    if (minutes === Math.round(endH * 60) && minutes % 1440 === 0) return (day > 1 ? "day " + day + " " : "") + "24:00";
    return (day > 0 ? "day " + (day + 1) + " " : "") + time;
  }

  function decode(series) {
    let sum = 0;
    return series.d.map(difference => {
      if (difference === null) return null;
      sum += difference;
      return sum * series.scale;
    });
  }

  const LOOKS = {
    true: { width: 2 },
    believed: { width: 1.25, dash: [5, 3] },
    target: { width: 1.5, dash: [2, 3] },
  };
  const DASHES = [[], [7, 3], [2, 3]];

  // The line drawn before each name in a legend: same colour, same dashes.
  const markerDash = s => (s.dash && s.dash.length ? (s.dash[0] > 3 ? "dashed" : "dotted") : "solid");
  function refreshMarkers(u) {
    u.root.querySelectorAll(".u-series").forEach((row, i) => {
      const marker = row.querySelector(".u-marker");
      const s = u.series[i];
      if (!marker || !s || !s.colour) return;
      marker.style.background = "none";
      marker.style.border = "none";
      if (s.dots) {
        marker.style.width = marker.style.height = "7px";
        marker.style.borderRadius = "50%";
        marker.style.background = colour(s.colour);
      } else marker.style.borderTop = "2px " + markerDash(s) + " " + colour(s.colour);
    });
  }

  function axis(label, extra) {
    return Object.assign({
      label, stroke: () => colour("faint"), font: font(12), labelFont: font(12), labelSize: 20, labelGap: 0,
      grid: { stroke: () => colour("grid"), width: 1 }, ticks: { stroke: () => colour("rule"), width: 1, size: 5 },
    }, extra);
  }
  const HOURS = [1 / 60, 2 / 60, 5 / 60, 10 / 60, 15 / 60, 0.5, 1, 2, 3, 4, 6, 12, 24, 48, 96, 168, 336, 720, 2160];
  const timeAxis = () => axis("time since the start, hours:minutes", {
    incrs: HOURS, space: endH > 24 ? 92 : 54, size: 30, values: (u, splits) => splits.map(clock),
  });
  const figures = (u, splits) => {
    const step = splits.length > 1 ? Math.abs(splits[1] - splits[0]) : 1;
    // As many as the step itself has: 2.5 needs one, though it is larger than 1.
    let decimals = 0;
    for (let of = step; decimals < 4 && Math.abs(of - Math.round(of)) > 1e-6; of *= 10) decimals += 1;
    return splits.map(v => (v === null ? "" : v.toFixed(decimals)));
  };
  const yAxis = label => axis(label, { size: 48, values: figures });

  // One part of the run for all charts.
  function setView(from, to) {
    const width = Math.min(endH, Math.max(LEAST_H, to - from));
    const start = Math.max(0, Math.min(endH - width, from));
    view = [start, start + width];
    setting = true;
    for (const u of overTime) u.setScale("x", { min: view[0], max: view[1] });
    setting = false;
    document.getElementById("range").textContent = clock(view[0]) + " to " + clock(view[1]);
  }
  const STEPS = {
    all: () => setView(0, endH),
    in: ([a, b]) => setView(a + (b - a) / 4, b - (b - a) / 4),
    out: ([a, b]) => setView(a - (b - a) / 2, b + (b - a) / 2),
    back: ([a, b]) => setView(a - (b - a) / 2, b - (b - a) / 2),
    on: ([a, b]) => setView(a + (b - a) / 2, b + (b - a) / 2),
  };
  document.getElementById("zoom").addEventListener("click", event => {
    const step = STEPS[event.target.dataset && event.target.dataset.do];
    if (step) step(view);
  });

  // A finger drags as a mouse does; up and down still scrolls the page.
  function fingers(u) {
    const over = u.over;
    let from = null;
    const at = event => event.clientX - over.getBoundingClientRect().left;
    over.style.touchAction = "pan-y";
    over.addEventListener("pointerdown", event => { if (event.pointerType === "touch") from = at(event); });
    over.addEventListener("pointermove", event => {
      if (from === null || event.pointerType !== "touch") return;
      const to = at(event);
      u.setCursor({ left: to, top: 5 });
      u.setSelect({ left: Math.min(from, to), width: Math.abs(to - from), top: 0, height: over.clientHeight }, false);
    });
    const end = event => {
      if (from === null) return;
      const to = at(event), width = Math.abs(to - from), left = Math.min(from, to);
      from = null;
      u.setSelect({ left: 0, width: 0, top: 0, height: 0 }, false);
      if (event.type === "pointerup" && width > 12) setView(u.posToVal(left, "x"), u.posToVal(left + width, "x"));
    };
    over.addEventListener("pointerup", end);
    over.addEventListener("pointercancel", end);
  }

  function figure(section, title, about) {
    const box = document.createElement("figure");
    const heading = document.createElement("h3");
    heading.textContent = title;
    const place = document.createElement("div");
    place.setAttribute("role", "img");
    place.setAttribute("aria-label", about);
    box.append(heading, place);
    document.querySelector("#" + section + " .charts").append(box);
    return place;
  }

  const widthOf = place => Math.max(200, Math.floor(place.parentElement.getBoundingClientRect().width));

  function draw(place, options, columns) {
    const u = new uPlot(Object.assign({ width: widthOf(place) }, options), columns, place);
    u.place = place;
    charts.push(u);
    refreshMarkers(u);
    new ResizeObserver(() => { if (!printing) resize(u); }).observe(place.parentElement);
    return u;
  }
  function resize(u) {
    const width = widthOf(u.place);
    if (Math.abs(width - u.width) >= 1) u.setSize({ width, height: u.height });
  }

  function drawOverTime(place, options, columns) {
    const base = {
      padding: [10, endH > 24 ? 52 : 26, 0, 0],
      cursor: { sync: { key: "time", scales: ["x", null] }, drag: { x: true, y: false, dist: 4 }, points: { size: 6 } },
      hooks: {
        setScale: [(u, key) => {
          if (key !== "x" || setting || !u.place) return;
          const { min, max } = u.scales.x;
          if (Math.abs(min - view[0]) + Math.abs(max - view[1]) > 1e-9) setView(min, max);
        }],
        drawClear: [events],
      },
    };
    const u = draw(place, Object.assign(base, options, { hooks: Object.assign(base.hooks, options.hooks) }), columns);
    overTime.push(u);
    fingers(u);
    return u;
  }
  const timeScale = {
    time: false,
    // A double click asks for all the data; all the run is meant.
    range: (u, min, max) => (max - min > endH - 2 * data.step_s / 3600 ? [0, endH] : [min, max]),
  };

  // Thin upright lines where something happens.
  function events(u) {
    const { ctx, bbox } = u;
    ctx.save();
    ctx.strokeStyle = colour("mark");
    ctx.globalAlpha = 0.55;
    ctx.lineWidth = devicePixelRatio;
    ctx.setLineDash([1 * devicePixelRatio, 3 * devicePixelRatio]);
    for (const event of data.events) {
      const h = event.at_s / 3600;
      if (h < u.scales.x.min || h > u.scales.x.max) continue;
      const x = Math.round(u.valToPos(h, "x", true)) + 0.5;
      ctx.beginPath();
      ctx.moveTo(x, bbox.top);
      ctx.lineTo(x, bbox.top + bbox.height);
      ctx.stroke();
    }
    ctx.restore();
  }

  const times = data.charts.length
    ? data.charts[0].series[0].values.d.map((_, i) => (data.first_s + i * data.step_s) / 3600)
    : [];

  function seriesOf(line, index) {
    const lift = line.look === "lift";
    const name = lift ? "c" + (index % 8) : line.look;
    const look = lift ? { width: 1.75, dash: DASHES[Math.floor(index / 8) % 3] } : LOOKS[line.look];
    return Object.assign({
      label: line.name, colour: name, stroke: () => colour(name), points: { show: false }, spanGaps: false,
      value: (u, v) => (v === null || v === undefined ? "-" : v.toFixed(line.decimals) + (line.unit ? " " + line.unit : "")),
    }, look);
  }
  const timeSeries = { label: "time", value: (u, v) => (v === null || v === undefined ? "-" : clock(v)) };

  const showLimits = document.getElementById("limits") || document.createElement("input"); // not every page has limits
  function limits(chart) {
    return u => {
      if (!showLimits.checked) return;
      const { ctx, bbox } = u;
      const px = devicePixelRatio;
      ctx.save();
      ctx.font = font(11 * px);
      for (const limit of chart.limits) {
        const y = Math.round(u.valToPos(limit.at, "y", true)) + 0.5;
        if (y < bbox.top || y > bbox.top + bbox.height) continue;
        ctx.strokeStyle = ctx.fillStyle = colour({ warn: "warn", act: "bad", rim: "faint" }[limit.kind]);
        ctx.lineWidth = (limit.kind === "rim" ? 2 : 1) * px;
        ctx.setLineDash(limit.kind === "warn" ? [6 * px, 4 * px] : []);
        ctx.beginPath();
        ctx.moveTo(bbox.left, y);
        ctx.lineTo(bbox.left + bbox.width, y);
        ctx.stroke();
        // Warnings to the left, acts to the right, the rim between: near limits do not write over each other.
        const place = { warn: ["left", 4 * px], act: ["right", bbox.width - 4 * px], rim: ["center", bbox.width / 2] }[limit.kind];
        const below = limit.name === "high: warns";
        ctx.textAlign = place[0];
        ctx.textBaseline = below ? "top" : "bottom";
        // On a ground of its own, or the water's line runs through it.
        const words = limit.name + " " + limit.at.toFixed(0) + " mm";
        const wide = ctx.measureText(words).width;
        const x = bbox.left + place[1];
        const ink = ctx.fillStyle;
        ctx.fillStyle = colour("card");
        ctx.fillRect(x - { left: 0, center: wide / 2, right: wide }[place[0]], below ? y + px : y - 13 * px, wide, 12 * px);
        ctx.fillStyle = ink;
        ctx.fillText(words, x, y + (below ? 2 : -1) * px);
      }
      ctx.restore();
    };
  }
  function yRange(chart) {
    return (u, min, max) => {
      if (min === null || max === null) return [0, 1];
      if (chart.limits.length && showLimits.checked) {
        for (const limit of chart.limits) { min = Math.min(min, limit.at); max = Math.max(max, limit.at); }
      }
      const least = { "share of its curve, 1": 0.1, "above atmosphere, kPa": 0.5 }[chart.y] || 2;
      const pad = Math.max((max - min) * 0.08, (least - (max - min)) / 2);
      const low = min - pad;
      return [min >= 0 && low < 0 ? 0 : low, max + pad];
    };
  }
  showLimits.addEventListener("change", () => setView(view[0], view[1]));

  // The bars of the alarms, each under its name, and the numbers of the events.
  const ROW = 36;
  function alarms(u) {
    const { ctx, bbox } = u;
    const px = devicePixelRatio;
    const { min, max } = u.scales.x;
    ctx.save();
    ctx.beginPath();
    ctx.rect(bbox.left, bbox.top, bbox.width, bbox.height);
    ctx.clip();
    ctx.textBaseline = "middle";
    ctx.textAlign = "center";
    ctx.font = font(12 * px);
    const last = new Map();
    data.events.forEach((event, index) => {
      const h = event.at_s / 3600;
      if (h < min || h > max) return;
      const text = String(index + 1);
      const half = ctx.measureText(text).width / 2 + 4 * px;
      const x = Math.min(bbox.left + bbox.width - half, Math.max(bbox.left + half, u.valToPos(h, "x", true)));
      // Numbers that would lie on each other stand in the next line, three at most.
      let line = 0;
      while (line < 2 && (last.get(line) ?? -1e9) > x - half) line += 1;
      last.set(line, x + half + 2 * px);
      const y = bbox.top + (10 + 19 * line) * px;
      ctx.fillStyle = colour("grid");
      ctx.fillRect(x - half, y - 9 * px, 2 * half, 18 * px);
      ctx.fillStyle = colour("ink");
      ctx.fillText(text, x, y + 1 * px);
    });
    ctx.textAlign = "left";
    const top = bbox.top + EVENTS * px;
    if (!data.alarms.length && !data.no_alarms) {
      ctx.fillStyle = colour("faint");
      ctx.fillText("no alarm came up", bbox.left + 6 * px, top + (ROW / 2) * px);
    }
    data.alarms.forEach((row, index) => {
      const y = top + index * ROW * px;
      const name = { now: "!! ", today: "! ", sometime: "" }[row.urgency] + row.label;
      let shown = name;
      while (shown.length > 4 && ctx.measureText(shown).width > bbox.width - 12 * px) shown = shown.slice(0, -4) + "...";
      ctx.fillStyle = colour("ink");
      ctx.fillText(shown, bbox.left + 6 * px, y + 10 * px);
      ctx.fillStyle = colour(row.urgency);
      for (const [from, to] of row.spans) {
        if (to / 3600 < min || from / 3600 > max) continue;
        const left = u.valToPos(from / 3600, "x", true);
        ctx.fillRect(left, y + 20 * px, Math.max(2 * px, u.valToPos(to / 3600, "x", true) - left), 10 * px);
      }
    });
    ctx.restore();
  }
  let EVENTS = 0;
  const now = document.createElement("p");
  now.id = "now";
  function tellNow(u) {
    const h = u.cursor.left >= 0 && u.cursor.left !== null ? u.posToVal(u.cursor.left, "x") : null;
    if (h === null || !isFinite(h)) { now.textContent = data.events.length || data.alarms.length ? "Move over a chart to see what stands at that time." : ""; return; }
    const near = (view[1] - view[0]) / 150;
    const standing = data.alarms.filter(row => row.spans.some(([a, b]) => a / 3600 - near <= h && h <= b / 3600 + near)).map(row => row.label);
    const happening = data.events.map((event, i) => [event, i]).filter(([event]) => Math.abs(event.at_s / 3600 - h) <= near)
      .map(([event, i]) => (i + 1) + ". " + event.text);
    now.textContent = clock(h) + "  " + (happening.length ? happening.join("; ") + ". " : "")
      + (data.no_alarms ? "" : standing.length ? "Alarms: " + standing.join("; ") + "." : "No alarm stands.");
  }

  function timeline() {
    EVENTS = data.events.length ? (data.events.length > 8 ? 66 : 28) : 6;
    const rows = data.no_alarms ? 1 : Math.max(2, data.alarms.length);
    const place = figure("timeline", data.no_alarms ? "Events" : "Alarms, the most urgent first (!! come now, ! today)",
      data.alarms.length + " kinds of alarm and " + data.events.length + " events against time; the same is in the tables of this section");
    place.parentElement.append(now);
    drawOverTime(place, {
      height: EVENTS + rows * ROW + 64,
      legend: { show: false },
      scales: { x: timeScale, y: { range: [0, 1] } },
      axes: [timeAxis(), axis(data.no_alarms ? "events, numbered" : "alarms, events", { size: 48, values: () => [], splits: () => [], grid: { show: false }, ticks: { show: false } })],
      series: [timeSeries, { label: "none", show: true, stroke: "transparent", points: { show: false } }],
      hooks: { draw: [alarms], setCursor: [tellNow] },
    }, [times, times.map(() => null)]);
  }

  function overTimeCharts() {
    for (const chart of data.charts) {
      const about = chart.title + ": " + chart.series.map(s => s.name).join(", ") + "; " + chart.y + " against time. The tables of this report give the same in figures.";
      const hooks = chart.limits.length ? { draw: [limits(chart)] } : {};
      drawOverTime(figure(chart.section, chart.title, about), {
        height: narrow() ? 210 : 230,
        scales: { x: timeScale, y: { range: yRange(chart) } },
        axes: [timeAxis(), yAxis(chart.y)],
        series: [timeSeries, ...chart.series.map(seriesOf)],
        hooks,
      }, [times, ...chart.series.map(s => decode(s.values))]);
    }
  }

  function curveCharts() {
    const value = unit => (u, v) => (v === null || v === undefined ? "-" : v.toFixed(1) + " L/min");
    for (const curve of data.curves) {
      const place = figure("curves", curve.title, curve.title + ": water against free air, the told curve, the learned curve and the points where it ran");
      const line = (label, name, look) => Object.assign({ label, colour: name, stroke: () => colour(name), spanGaps: true, points: { show: false }, value: value() }, look);
      draw(place, {
        height: 300, padding: [10, 20, 0, 0],
        scales: { x: { time: false, range: (u, min, max) => [0, max] }, y: { range: (u, min, max) => [Math.min(0, min), max * 1.08 || 1] } },
        axes: [axis("free air (100 kPa, 20 C), L/min", { size: 30, space: 60, values: figures }), yAxis("water, L/min")],
        cursor: { drag: { x: true, y: false, dist: 4 }, points: { size: 6 } },
        series: [
          { label: "free air", value: value() },
          line("told curve", "target", { width: 1.25, dash: [2, 3] }),
          line("times " + curve.factor.toFixed(2) + ", as learned", "believed", { width: 1.5, dash: [7, 3] }),
          { label: "where it ran", colour: "true", dots: true, stroke: () => colour("true"), paths: () => null, value: value(),
            points: { show: true, size: 4, width: 1, stroke: () => colour("true"), fill: () => colour("true") } },
        ],
      }, [curve.air, curve.told, curve.learned, curve.points]);
      const words = document.createElement("figcaption");
      words.textContent = (curve.onset_air !== null ? "Water first moves at " + curve.onset_air.toFixed(1) + " L/min of air. " : "")
        + (curve.peak ? "The told curve peaks at " + curve.peak[1].toFixed(0) + " L/min of water with " + curve.peak[0].toFixed(0) + " L/min of air." : "");
      place.parentElement.append(words);
    }
  }

  // On paper: light, and as wide as the sheet.
  function toPaper(on) {
    if (printing === on) return;
    printing = on;
    root.classList.toggle("paper", on);
    paint();
    for (const u of charts) {
      const curve = !overTime.includes(u);
      u.setSize({ width: on ? (curve ? 320 : 670) : widthOf(u.place), height: u.height });
      refreshMarkers(u);
    }
  }
  addEventListener("beforeprint", () => toPaper(true));
  addEventListener("afterprint", () => toPaper(false));

  paint();
  timeline();
  overTimeCharts();
  curveCharts();
  setView(0, endH);
  return { charts, overTime, view: () => view, setView, endH, toPaper };
})();
