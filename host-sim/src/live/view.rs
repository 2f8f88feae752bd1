//! Draws snapshots.

use super::keys::{Action, HELP};
use super::snapshot::{Pace, Snapshot};
use super::words;
use crate::output::clock;
use ratatui::Frame;
use ratatui::layout::{Constraint, Layout, Rect};
use ratatui::style::{Color, Modifier, Style};
use ratatui::symbols::Marker;
use ratatui::text::Line;
use ratatui::widgets::{Axis, Block, Chart, Dataset, GraphType, Paragraph, Wrap};
use std::collections::VecDeque;

/// Time that the chart looks back, s.
const LOOK_BACK_S: f64 = 3_600.0;
/// Points of the chart a lift.
const POINTS: usize = 240;
/// Rows that the chart needs to be of use.
const LEAST_CHART: u16 = 7;

/// The view: which lift the keys are about, what was last said, and the last hour of each lift.
#[derive(Clone, Debug, Default)]
pub struct LiveView {
    selected: usize,
    said: String,
    past: Vec<VecDeque<Past>>,
}

/// One point of a lift's past.
#[derive(Clone, Copy, Debug)]
struct Past {
    time_s: f64,
    target: f64,
    believed: f64,
    delivered: Option<f64>,
}

impl LiveView {
    /// Nothing seen yet, the first lift selected.
    #[must_use]
    pub fn new() -> Self {
        Self::default()
    }

    /// The lift that keys are about.
    #[must_use]
    pub fn selected(&self) -> usize {
        self.selected
    }

    /// Takes a key that is about the view alone; `lifts` is how many there are.
    pub fn take(&mut self, action: Action, lifts: usize) {
        let lifts = lifts.max(1);
        match action {
            Action::NextLift => self.selected = (self.selected + 1) % lifts,
            Action::PreviousLift => self.selected = (self.selected + lifts - 1) % lifts,
            _ => {}
        }
    }

    /// What is to be read at the foot until something else is said.
    pub fn say(&mut self, said: String) {
        if !said.is_empty() {
            self.said = said;
        }
    }

    /// Remembers a moment for the chart.
    pub fn remember(&mut self, snapshot: &Snapshot) {
        self.past.resize_with(snapshot.lifts.len(), VecDeque::new);
        #[allow(clippy::cast_precision_loss)]
        let every_s = LOOK_BACK_S / POINTS as f64;
        for (past, lift) in self.past.iter_mut().zip(&snapshot.lifts) {
            if past.back().is_some_and(|last| snapshot.time_s < last.time_s + every_s) {
                continue;
            }
            past.push_back(Past {
                time_s: snapshot.time_s,
                target: lift.target_l_min,
                believed: lift.believed_l_min,
                delivered: lift.true_l_min,
            });
            while past
                .front()
                .is_some_and(|first| first.time_s < snapshot.time_s - LOOK_BACK_S)
            {
                past.pop_front();
            }
        }
    }

    /// Draws a moment.
    pub fn draw(&self, frame: &mut Frame<'_>, snapshot: &Snapshot) {
        let rows = |count: usize| u16::try_from(count).unwrap_or(u16::MAX).saturating_add(2);
        let area = frame.area();
        let alarms = self.alarms(snapshot);
        let fixed = 2 + rows(snapshot.tanks.len()) + rows(snapshot.lifts.len());
        let left = area.height.saturating_sub(fixed);
        let alarm_rows = rows(alarms.len()).max(3).min(left.max(3));
        let chart_rows = left.saturating_sub(alarm_rows);
        let chart_rows = if chart_rows < LEAST_CHART { 0 } else { chart_rows };
        let [head, tanks, lifts, chart, alarm_area, foot] = Layout::vertical([
            Constraint::Length(1),
            Constraint::Length(rows(snapshot.tanks.len())),
            Constraint::Length(rows(snapshot.lifts.len())),
            Constraint::Length(chart_rows),
            Constraint::Min(3),
            Constraint::Length(1),
        ])
        .areas(area);
        frame.render_widget(Line::from(head_line(snapshot)).style(Modifier::BOLD), head);
        self.tanks(frame, tanks, snapshot);
        self.lifts(frame, lifts, snapshot);
        if chart_rows > 0 {
            self.chart(frame, chart, snapshot);
        }
        let block = Block::bordered().title(" Alarms, the most urgent first ");
        frame.render_widget(
            Paragraph::new(alarms).wrap(Wrap { trim: false }).block(block),
            alarm_area,
        );
        let foot_text = if self.said.is_empty() {
            HELP.to_owned()
        } else {
            format!("{}   (q quits, space pauses)", self.said)
        };
        let narrow = foot_text.chars().count() > usize::from(foot.width) && self.said.is_empty();
        let foot_text = if narrow {
            "up/down +/- target s shut c clog a seen+believe r reset space >/< pace q quit".to_owned()
        } else {
            foot_text
        };
        frame.render_widget(Line::from(foot_text).style(Style::new().fg(Color::Gray)), foot);
    }

    fn tanks(&self, frame: &mut Frame<'_>, area: Rect, snapshot: &Snapshot) {
        let names = longest(snapshot.tanks.iter().map(|tank| tank.name.as_str()));
        let columns = usize::from(area.width.saturating_sub(2));
        let lines: Vec<Line<'_>> = snapshot
            .tanks
            .iter()
            .map(|tank| Line::from(words::tank(tank, names, columns)).style(words::tank_state(tank).0.style()))
            .collect();
        let block = Block::bordered().title(" Tanks: level between too low and too high ");
        frame.render_widget(Paragraph::new(lines).block(block), area);
    }

    fn lifts(&self, frame: &mut Frame<'_>, area: Rect, snapshot: &Snapshot) {
        let names = longest(snapshot.lifts.iter().map(|lift| lift.name.as_str()));
        let columns = usize::from(area.width.saturating_sub(4));
        let lines: Vec<Line<'_>> = snapshot
            .lifts
            .iter()
            .enumerate()
            .map(|(index, lift)| {
                let chosen = index == self.selected;
                let text = format!(
                    "{}{}",
                    if chosen { "> " } else { "  " },
                    words::lift(lift, names, columns)
                );
                let style = words::lift_weight(lift.state).style();
                Line::from(text).style(if chosen {
                    style.add_modifier(Modifier::REVERSED)
                } else {
                    style
                })
            })
            .collect();
        let block = Block::bordered().title(" Lifts: believed flow of target ");
        frame.render_widget(Paragraph::new(lines).block(block), area);
    }

    fn alarms(&self, snapshot: &Snapshot) -> Vec<Line<'static>> {
        if snapshot.alarms.is_empty() {
            return vec![Line::from("   none stands")];
        }
        let alarms = snapshot.alarms.iter();
        alarms
            .map(|alarm| Line::from(words::alarm(alarm)).style(words::alarm_weight(alarm).style()))
            .collect()
    }

    /// The last hour of the chosen lift.
    fn chart(&self, frame: &mut Frame<'_>, area: Rect, snapshot: &Snapshot) {
        let Some(past) = self.past.get(self.selected) else {
            return;
        };
        let hours = |time_s: f64| (time_s - snapshot.time_s) / 60.0;
        let line = |value: fn(&Past) -> Option<f64>| -> Vec<(f64, f64)> {
            past.iter()
                .filter_map(|past| Some((hours(past.time_s), value(past)?)))
                .collect()
        };
        let target = line(|past| Some(past.target));
        let believed = line(|past| Some(past.believed));
        let delivered = line(|past| past.delivered);
        let all = target.iter().chain(&believed).chain(&delivered).map(|point| point.1);
        let (low, high) = all.fold((f64::INFINITY, f64::NEG_INFINITY), |(low, high), value| {
            (low.min(value), high.max(value))
        });
        if low > high {
            return;
        }
        // Room above for the names of the lines.
        let pad = (0.1 * (high - low)).max(1.0);
        let (low, high) = (low - pad, high + 4.0 * pad);
        let set = |name, data, colour| {
            Dataset::default()
                .name(name)
                .marker(Marker::Braille)
                .graph_type(GraphType::Line)
                .style(Style::new().fg(colour))
                .data(data)
        };
        let mut sets = vec![
            set("target", target.as_slice(), Color::Gray),
            set("believed", believed.as_slice(), Color::Yellow),
        ];
        if !delivered.is_empty() {
            sets.push(set("truly", delivered.as_slice(), Color::LightBlue));
        }
        let name = snapshot.lifts.get(self.selected).map_or("", |lift| lift.name.as_str());
        let chart = Chart::new(sets)
            .block(Block::bordered().title(format!(" Lift {name}, the last hour ")))
            .x_axis(
                Axis::default()
                    .title("min")
                    .bounds([-LOOK_BACK_S / 60.0, 0.0])
                    .labels(["-60", "-30", "now"]),
            )
            .y_axis(Axis::default().title("water, L/min").bounds([low, high]).labels([
                format!("{low:.0}"),
                format!("{:.0}", 0.5 * (low + high)),
                format!("{high:.0}"),
            ]));
        frame.render_widget(chart, area);
    }
}

fn head_line(snapshot: &Snapshot) -> String {
    let pace = match snapshot.pace {
        Pace::Paused => "PAUSED".to_owned(),
        Pace::Ended => "the run is over".to_owned(),
        Pace::Times(times) => format!("{times:.0} times real time"),
    };
    let air = snapshot
        .blower_l_min
        .map_or_else(String::new, |air| format!(", blower {air:.0} L/min"));
    format!(
        "{}   {}   {pace}   manifold {:.1} kPa{air}",
        snapshot.place,
        clock(snapshot.time_s),
        snapshot.manifold_kpa
    )
}

fn longest<'a>(names: impl Iterator<Item = &'a str>) -> usize {
    names.map(|name| name.chars().count()).max().unwrap_or(0)
}
