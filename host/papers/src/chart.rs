//! The pictures of a report: yield, failing pins, speed grades.

use crate::page::{picture, text};
use crate::words::{count, cut, interval, percent, type_name};
use dipsift_ledger::{Failure, PinCount, SpeedCount, Type, TypeCounts};
use dipsift_plan::{Share, Tally, yield_interval};
use maud::{Markup, html};

/// The width of a picture: 180 mm, what A4 leaves between its margins.
const WIDTH: i32 = 720;
/// Where bars begin, and how long the longest is.
const LEFT: i32 = 176;
const LENGTH: i32 = 240;
const ROW: i32 = 24;
const BAR: i32 = 14;

/// More rows than these are a table, not a picture.
pub const MOST_TYPES: usize = 40;
const MOST_PINS: usize = 15;

/// The confidence of every interval in a report.
pub const CONFIDENCE_PERCENT: f64 = 95.0;

/// A yield with its interval, in words and as shares.
pub struct Yield {
    pub share: f64,
    pub lower: f64,
    pub upper: f64,
}

impl Yield {
    /// None where no chip was decided on.
    pub fn of(good: u64, decided: u64) -> Option<Self> {
        let tally = Tally::new(good, decided).ok()?;
        let confidence = Share::percent(CONFIDENCE_PERCENT).ok()?;
        let interval = yield_interval(tally, confidence);
        Some(Self { share: tally.share(), lower: interval.lower, upper: interval.upper })
    }

    pub fn interval(&self) -> String {
        interval(self.lower, self.upper)
    }
}

fn along(share: f64) -> i32 {
    (share * f64::from(LENGTH)).round() as i32
}

/// The share of good chips of each type, with its interval.
pub fn yields(types: &[TypeCounts]) -> Markup {
    let types = &types[..types.len().min(MOST_TYPES)];
    let bottom = 20 + ROW * types.len() as i32;
    picture(
        WIDTH,
        bottom + 4,
        "good chips of each type",
        html! {
            @for tick in 0..=4 {
                @let x = LEFT + LENGTH * tick / 4;
                line class="grid" x1=(x) y1="16" x2=(x) y2=(bottom) {}
                (text(x, 11, "small", "middle", &format!("{} %", 25 * tick)))
            }
            @for (line, row) in types.iter().zip(0..) {
                (yield_row(line, 20 + ROW * row))
            }
        },
    )
}

fn yield_row(line: &TypeCounts, y: i32) -> Markup {
    let (good, decided) = (line.counts.go, line.counts.decided());
    let middle = y + BAR / 2;
    html! {
        (text(LEFT - 8, y + 12, "", "end", &cut(&type_name(&line.chip), 22)))
        @match Yield::of(good, decided) {
            Some(share) => {
                @let split = LEFT + along(share.share);
                rect class="bad" x=(LEFT) y=(y) width=(LENGTH) height=(BAR) {}
                rect class="good" x=(LEFT) y=(y) width=(split - LEFT) height=(BAR) {}
                @let (low, high) = (LEFT + along(share.lower), LEFT + along(share.upper));
                @for class in ["halo", "whisker"] {
                    path class=(class) d=(format!(
                        "M{low} {} v8 M{low} {middle} H{high} M{high} {} v8", middle - 4, middle - 4
                    )) {}
                }
                (text(LEFT + LENGTH + 10, y + 12, "", "start",
                    &format!("{good} of {decided}: {} ({})", percent(share.share), share.interval())))
            }
            None => (text(LEFT, y + 12, "small", "start", "none decided")),
        }
    }
}

/// How a pin failed, in words.
pub const fn failure(failure: Failure) -> &'static str {
    match failure {
        Failure::StaysLow => "stays low",
        Failure::StaysHigh => "stays high",
        Failure::StillDrives => "still drives",
        Failure::Wrong => "wrong",
        Failure::Open => "open",
    }
}

/// The most frequent failures of pins, with the share that they have together (Pareto chart).
pub fn pareto(pins: &[PinCount]) -> Markup {
    let all: u64 = pins.iter().map(|pin| pin.chips).sum();
    let shown = &pins[..pins.len().min(MOST_PINS)];
    let most = shown.first().map_or(1, |pin| pin.chips);
    let bottom = 20 + ROW * shown.len() as i32;
    let mut sum = 0;
    let sums: Vec<f64> = shown
        .iter()
        .map(|pin| {
            sum += pin.chips;
            sum as f64 / all as f64
        })
        .collect();
    let curve: Vec<String> = sums
        .iter()
        .zip(0..)
        .map(|(share, row)| format!("{},{}", LEFT + along(*share), 20 + ROW * row + BAR / 2))
        .collect();
    picture(
        WIDTH,
        bottom + 4,
        "failing pins, the most frequent first",
        html! {
            (text(LEFT, 11, "small", "start", "bars: chips; dots: share of all failing pins, added up"))
            @for tick in [0, 1, 2] {
                @let x = LEFT + LENGTH * tick / 2;
                line class="grid" x1=(x) y1="16" x2=(x) y2=(bottom) {}
            }
            @for (pin, row) in shown.iter().zip(0..) {
                @let y = 20 + ROW * row;
                @let name = format!("{} pin {} {}", pin.chip.name, pin.pin, pin.pin_name);
                (text(LEFT - 8, y + 12, "", "end", &cut(name.trim_end(), 22)))
                rect class="bad" x=(LEFT) y=(y) width=(along(pin.chips as f64 / most as f64).max(2)) height=(BAR) {}
                (text(LEFT + LENGTH + 10, y + 12, "", "start", &format!(
                    "{}: {}; together {}", failure(pin.failure), count(pin.chips, "chip", "chips"),
                    percent(sums[row as usize])
                )))
            }
            polyline class="halo" points=(curve.join(" ")) {}
            polyline class="curve" points=(curve.join(" ")) {}
            @for (share, row) in sums.iter().zip(0..) {
                circle class="dot" cx=(LEFT + along(*share)) cy=(20 + ROW * row + BAR / 2) r="3" {}
            }
        },
    )
}

/// What of the failing pins the chart leaves out.
pub fn pins_left_out(pins: &[PinCount]) -> usize {
    pins.len().saturating_sub(MOST_PINS)
}

/// The speed grades that good chips of a type reached, as columns.
pub fn speeds(chip: &Type, grades: &[&SpeedCount]) -> Markup {
    const COLUMN: i32 = 56;
    const HEIGHT: i32 = 90;
    let most = grades.iter().map(|grade| grade.chips).max().unwrap_or(1).max(1);
    let width = (COLUMN * grades.len() as i32 + 20).max(170);
    let base = 40 + HEIGHT;
    picture(
        width,
        base + 26,
        &format!("speed grades of {}", chip.name),
        html! {
            (text(10, 14, "strong", "start", &cut(&type_name(chip), 24)))
            line class="axis" x1="6" y1=(base) x2=(width - 6) y2=(base) {}
            @for (grade, column) in grades.iter().zip(0..) {
                @let x = 10 + COLUMN * column;
                @let height = (grade.chips as f64 / most as f64 * f64::from(HEIGHT)).round() as i32;
                rect class="good" x=(x + 8) y=(base - height) width=(COLUMN - 16) height=(height) {}
                (text(x + COLUMN / 2, base - height - 4, "", "middle", &grade.chips.to_string()))
                (text(x + COLUMN / 2, base + 16, "small", "middle", &cut(&grade.speed_grade, 9)))
            }
        },
    )
}
