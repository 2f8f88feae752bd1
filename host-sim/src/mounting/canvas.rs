//! Lines, boxes and dimensions on an SVG page, heights and pipes to one scale.

use svg::Node;
use svg::node::element::{Circle, Group, Polyline, Rectangle, Text};

/// Height of small writing, px.
pub(super) const SMALL: f64 = 13.0;

/// How a line looks.
#[derive(Clone, Copy, Debug)]
pub(super) struct Pen {
    pub colour: &'static str,
    pub width: f64,
    pub dashes: Option<&'static str>,
}

impl Pen {
    pub const fn new(colour: &'static str, width: f64) -> Self {
        Self {
            colour,
            width,
            dashes: None,
        }
    }

    pub const fn dashed(colour: &'static str, width: f64) -> Self {
        Self {
            colour,
            width,
            dashes: Some("5 4"),
        }
    }
}

/// A drawing with a scale: points are in px; heights come in metres through [`Canvas::y`].
pub(super) struct Canvas {
    group: Group,
    /// px for a metre.
    pub scale: f64,
    /// px of the floor.
    floor: f64,
}

impl Canvas {
    pub fn new(scale: f64, floor: f64) -> Self {
        let group = Group::new()
            .set("font-family", "DejaVu Sans, Arial, sans-serif")
            .set("font-size", SMALL);
        Self { group, scale, floor }
    }

    /// px of a height above the floor, m.
    pub fn y(&self, height_m: f64) -> f64 {
        self.floor - height_m * self.scale
    }

    pub fn into_group(self) -> Group {
        self.group
    }

    pub fn line(&mut self, from: (f64, f64), to: (f64, f64), pen: Pen) {
        self.path(&[from, to], pen);
    }

    pub fn path(&mut self, points: &[(f64, f64)], pen: Pen) {
        let text: Vec<String> = points.iter().map(|(x, y)| format!("{x:.1},{y:.1}")).collect();
        let mut path = Polyline::new()
            .set("points", text.join(" "))
            .set("fill", "none")
            .set("stroke", pen.colour)
            .set("stroke-width", pen.width)
            .set("stroke-linejoin", "round");
        if let Some(dashes) = pen.dashes {
            path = path.set("stroke-dasharray", dashes);
        }
        self.group.append(path);
    }

    /// A box between two corners.
    pub fn area(&mut self, (x0, y0): (f64, f64), (x1, y1): (f64, f64), fill: &str, pen: Pen) {
        let rectangle = Rectangle::new()
            .set("x", x0.min(x1))
            .set("y", y0.min(y1))
            .set("width", (x1 - x0).abs())
            .set("height", (y1 - y0).abs())
            .set("fill", fill)
            .set("stroke", pen.colour)
            .set("stroke-width", pen.width);
        self.group.append(rectangle);
    }

    pub fn dot(&mut self, (x, y): (f64, f64), radius: f64, fill: &str, pen: Pen) {
        let circle = Circle::new()
            .set("cx", x)
            .set("cy", y)
            .set("r", radius)
            .set("fill", fill)
            .set("stroke", pen.colour)
            .set("stroke-width", pen.width);
        self.group.append(circle);
    }

    /// Writing; `anchor` is `start`, `middle` or `end`.
    pub fn text(&mut self, (x, y): (f64, f64), anchor: &str, size: f64, bold: bool, words: &str) {
        let text = Text::new(words)
            .set("x", x)
            .set("y", y)
            .set("text-anchor", anchor)
            .set("font-size", size)
            .set("font-weight", if bold { "bold" } else { "normal" })
            .set("fill", "#1b1b1b");
        self.group.append(text);
    }

    /// A numbered balloon with a line to what it names.
    pub fn balloon(&mut self, number: u32, at: (f64, f64), to: (f64, f64)) {
        self.line(at, to, Pen::new("#555", 0.8));
        self.dot(to, 2.0, "#555", Pen::new("#555", 0.5));
        self.dot(at, 10.0, "#fff", Pen::new("#1b1b1b", 1.2));
        self.text((at.0, at.1 + 4.5), "middle", 12.0, true, &number.to_string());
    }

    /// A level: a line with the usual triangle on it.
    pub fn level(&mut self, (x0, x1): (f64, f64), height_m: f64, pen: Pen) {
        let y = self.y(height_m);
        self.line((x0, y), (x1, y), pen);
        let x = x0 + 16.0;
        self.path(
            &[(x - 6.0, y - 9.0), (x + 6.0, y - 9.0), (x, y - 1.0), (x - 6.0, y - 9.0)],
            Pen::new(pen.colour, 1.2),
        );
    }

    /// Heights measured along one upright, from low to high, each with its words to the right. Words keep 15 px apart.
    pub fn heights(&mut self, x: f64, spans: &[(f64, f64, String)], words_x: f64) {
        let thin = Pen::new("#8a1c1c", 1.0);
        let mut wanted: Vec<(f64, usize)> = spans
            .iter()
            .enumerate()
            .map(|(index, (low, high, _))| (0.5 * (self.y(*low) + self.y(*high)), index))
            .collect();
        wanted.sort_by(|a, b| b.0.total_cmp(&a.0));
        let mut below = f64::MAX;
        for (middle, index) in wanted {
            let Some((low, high, words)) = spans.get(index) else {
                continue;
            };
            let (bottom, top) = (self.y(*low), self.y(*high));
            self.line((x, bottom), (x, top), thin);
            for (y, inward) in [(bottom, -1.0), (top, 1.0)] {
                self.line((x - 6.0, y), (x + 6.0, y), thin);
                if bottom - top > 16.0 {
                    self.path(
                        &[(x - 3.0, y + 7.0 * inward), (x, y), (x + 3.0, y + 7.0 * inward)],
                        thin,
                    );
                }
            }
            let at = middle.min(below - 16.0);
            below = at;
            if (at - middle).abs() > 2.0 || words_x - x > 12.0 {
                self.path(&[(x, middle), (words_x - 3.0, at)], Pen::new("#8a1c1c", 0.6));
            }
            self.text((words_x, at + 4.5), "start", SMALL, false, words);
        }
    }
}
