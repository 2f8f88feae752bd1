"use strict";
// Opened with #selftest, the page tries itself out and writes what it found into its title.
if (location.hash.startsWith("#selftest")) {
  const faults = [];
  addEventListener("error", event => faults.push("error: " + event.message));
  const must = (holds, fault) => { if (!holds) faults.push(fault); };
  const painted = u => {
    const { width, height } = u.ctx.canvas;
    const pixels = u.ctx.getImageData(0, 0, width, height).data;
    let count = 0;
    for (let i = 3; i < pixels.length; i += 4) if (pixels[i] > 0) count += 1;
    return count > 500;
  };
  const near = (a, b, tolerance) => Math.abs(a - b) <= tolerance;
  const drag = (u, from, to) => {
    const box = u.over.getBoundingClientRect();
    const send = (type, share, target) => target.dispatchEvent(new MouseEvent(type, {
      bubbles: true, cancelable: true, view: window, button: 0, buttons: type === "mouseup" ? 0 : 1, detail: 1,
      movementX: 9, // without way, the chart takes it for no move
      clientX: box.left + share * box.width, clientY: box.top + box.height / 2 }));
    send("mousemove", from, u.over);
    send("mousedown", from, u.over);
    send("mousemove", (from + to) / 2, u.over);
    send("mousemove", to, u.over);
    send("mouseup", to, document);
  };
  const pause = ms => new Promise(done => setTimeout(done, ms));
  addEventListener("load", async () => {
    try {
      await pause(150);
      const { charts, overTime, view, endH } = report;
      for (const place of document.querySelectorAll(".charts")) must(place.querySelector("canvas"), place.parentElement.id + ": no chart");
      for (const u of charts) {
        const name = u.place.parentElement.querySelector("h3").textContent;
        must(painted(u), name + ": nothing drawn");
        for (const a of u.axes) must(/, /.test(a.label || ""), name + ": an axis without label and unit");
        const marks = u.axes[0]._values, last = marks && marks[marks.length - 1];
        u.ctx.font = u.axes[0].font[0];
        const reach = u.valToPos(u.axes[0]._splits[marks.length - 1], "x", true) + u.ctx.measureText(last).width / 2;
        must(reach <= u.ctx.canvas.width, name + ": the last number of the axis is cut off");
      }
      // Zoom by dragging, by button, and back.
      drag(overTime[1], 0.25, 0.5);
      await pause(100);
      must(near(view()[0], 0.25 * endH, 0.02 * endH) && near(view()[1], 0.5 * endH, 0.02 * endH), "drag: view is " + view());
      for (const u of overTime) must(near(u.scales.x.min, view()[0], 1e-6) && near(u.scales.x.max, view()[1], 1e-6), "a chart did not follow the zoom");
      document.querySelector("[data-do=in]").click();
      await pause(50);
      must(near(view()[1] - view()[0], 0.125 * endH, 0.02 * endH), "button: view is " + view());
      document.querySelector("[data-do=all]").click();
      await pause(50);
      must(view()[0] === 0 && view()[1] === endH && overTime[0].scales.x.max === endH, "not back to the whole: " + view());
      // What the pointer shows.
      const box = overTime[1].over.getBoundingClientRect();
      overTime[1].over.dispatchEvent(new MouseEvent("mousemove", { bubbles: true, view: window, clientX: box.left + box.width / 2, clientY: box.top + 20 }));
      await pause(100);
      must(/\d L\/min/.test(overTime[1].root.querySelector(".u-legend").textContent), "no value under the pointer");
      must(/\d\d:\d\d/.test(document.getElementById("now").textContent), "the timeline tells no time");
      // Nothing wider than the screen, unless it scrolls by itself.
      const wide = document.documentElement.clientWidth;
      must(document.documentElement.scrollWidth <= wide, "the page is " + document.documentElement.scrollWidth + " px on a screen of " + wide);
      for (const element of document.querySelectorAll("body *")) {
        if (element.closest(".scroll") && !element.classList.contains("scroll")) continue;
        if (element.closest(".u-wrap") && !element.classList.contains("u-wrap")) continue;
        const { left, right, width } = element.getBoundingClientRect();
        if (width > 0) must(left >= -0.5 && right <= wide + 0.5, element.tagName + "." + element.className + " is cut off at the side");
      }
    } catch (error) {
      faults.push(String(error));
    }
    document.title = faults.length ? "selftest failed: " + [...new Set(faults)].slice(0, 8).join(" | ") : "selftest passed: " + report.charts.length + " charts at " + innerWidth + " px";
    if (parent !== window) parent.postMessage(document.title, "*");
  });
}
