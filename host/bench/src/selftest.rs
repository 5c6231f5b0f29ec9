//! The tester's own check, on an empty socket.

use crate::preflight::{contact_steps, contacts, unpowered};
use crate::seen::{SOCKET, levels};
use dipsift_link::{Link, LinkError, Transport};
use dipsift_wire::{Capabilities, Pins, Power, Rail, Seen, Step, Voltage};
use serde::Serialize;

/// One line of the self-test.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
pub struct SelftestLine {
    /// What was looked at.
    pub what: &'static str,
    /// Whether it was as it should be.
    pub ok: bool,
    /// What was seen.
    pub sentence: String,
}

/// The self-test's result.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
pub struct Selftest {
    /// Every line.
    pub lines: Vec<SelftestLine>,
    /// Whether all were as they should be.
    pub ok: bool,
}

/// Currents below this count as zero: the resolution of a bench sense amplifier.
const ZERO_UA: u32 = 500;
/// The current limit: nothing but the station's own leakage is fed.
const LIMIT_UA: u32 = 150_000;
/// How far a supply may be off, in thousandths.
const TOLERANCE_PER_MILLE: u32 = 50;

fn keep(light: Rail, firm: Rail) -> Step {
    Step::Keep { light, firm }
}

fn numbers(pins: Pins) -> String {
    crate::placement::list(pins)
}

/// Runs the self-test. The socket must be empty.
pub(crate) fn run<T: Transport>(
    link: &mut Link<T>,
    capabilities: &Capabilities,
) -> Result<Selftest, LinkError> {
    let mut lines = Vec::new();
    let seen = link.run(&unpowered(40, 0), &contact_steps())?.seen;
    let occupied = contacts(&seen);
    if !occupied.is_empty() {
        // The switches would power whatever is in there.
        lines.push(SelftestLine {
            what: "empty socket",
            ok: false,
            sentence: format!(
                "position {} has contact: take the chip out; nothing was powered",
                numbers(occupied)
            ),
        });
        return Ok(Selftest { lines, ok: false });
    }
    keepers(link, &mut lines)?;
    separate(link, &mut lines)?;
    switches(link, capabilities, &mut lines)?;
    let ok = lines.iter().all(|line| line.ok);
    Ok(Selftest { lines, ok })
}

/// Each position follows each keeper, both ways.
fn keepers<T: Transport>(
    link: &mut Link<T>,
    lines: &mut Vec<SelftestLine>,
) -> Result<(), LinkError> {
    let steps = [
        keep(Rail::High, Rail::Off),
        Step::Sample,
        keep(Rail::Low, Rail::Off),
        Step::Sample,
        keep(Rail::Off, Rail::High),
        Step::Sample,
        keep(Rail::Off, Rail::Low),
        Step::Sample,
        keep(Rail::Off, Rail::Off),
    ];
    let seen = levels(&link.run(&unpowered(40, 0), &steps)?.seen);
    let cases = [
        ("light keeper high", SOCKET),
        ("light keeper low", Pins::NONE),
        ("firm keeper high", SOCKET),
        ("firm keeper low", Pins::NONE),
    ];
    for ((what, expected), seen) in cases.into_iter().zip(seen) {
        let wrong = Pins(expected.0 ^ seen.0);
        lines.push(SelftestLine {
            what,
            ok: wrong.is_empty(),
            sentence: if wrong.is_empty() {
                "all 40 positions follow".into()
            } else {
                format!("position {} does not follow: is the socket empty?", numbers(wrong))
            },
        });
    }
    Ok(())
}

/// Each position driven alone moves alone.
fn separate<T: Transport>(
    link: &mut Link<T>,
    lines: &mut Vec<SelftestLine>,
) -> Result<(), LinkError> {
    for (what, rail, high) in [
        ("drivers low, neighbours separate", Rail::High, false),
        ("drivers high, neighbours separate", Rail::Low, true),
    ] {
        let mut steps = vec![keep(rail, Rail::Off)];
        for position in SOCKET.iter() {
            let pins = Pins::one(position);
            steps.push(Step::Drive { pins, high: if high { pins } else { Pins::NONE } });
            steps.push(Step::Sample);
            steps.push(Step::Release { pins });
        }
        steps.push(keep(Rail::Off, Rail::Off));
        let seen = levels(&link.run(&unpowered(40, 0), &steps)?.seen);
        let mut stuck = Pins::NONE;
        let mut follow = Vec::new();
        for (position, levels) in SOCKET.iter().zip(seen) {
            let moved = Pins(if high { levels.0 } else { !levels.0 & SOCKET.0 });
            if !moved.contains(position) {
                stuck = stuck.with(position, true);
            }
            let others = moved.with(position, false);
            if !others.is_empty() {
                follow.push(format!("{} follows {position}", numbers(others)));
            }
        }
        let ok = stuck.is_empty() && follow.is_empty();
        let sentence = match (ok, stuck.is_empty()) {
            (true, _) => "all 40 positions move alone".into(),
            (false, false) => format!("position {} does not move", numbers(stuck)),
            (false, true) => format!("positions joined: {}", follow.join("; ")),
        };
        lines.push(SelftestLine { what, ok, sentence });
    }
    Ok(())
}

/// Each feed switch brings each voltage to its position and takes it away, each ground switch
/// holds its position at ground, and an empty socket draws nothing.
fn switches<T: Transport>(
    link: &mut Link<T>,
    capabilities: &Capabilities,
    lines: &mut Vec<SelftestLine>,
) -> Result<(), LinkError> {
    let feeds = Pins(capabilities.feed);
    let grounds = Pins(capabilities.ground);
    let voltages = [
        (capabilities.v3_3, Voltage::V3_3, 3_300u32, "feed switches at 3.3 V"),
        (capabilities.v5, Voltage::V5, 5_000, "feed switches at 5 V"),
    ];
    let mut largest_ua = 0;
    // A supply takes both: a feed switch is tried together with some ground switch elsewhere.
    let powered = |feed: u8, ground: u8, voltage: Voltage| {
        let mut header = unpowered(40, 0);
        header.power = Some(Power {
            feed: Pins::one(feed),
            ground: Pins::one(ground),
            voltage,
            limit_ua: capabilities.current_max_ua.min(LIMIT_UA),
        });
        header
    };
    let other = |set: Pins, than: u8| set.iter().find(|&position| position != than);
    for (_, voltage, millivolts, what) in voltages.into_iter().filter(|(offered, ..)| *offered) {
        let mut wrong = Vec::new();
        for feed in feeds.iter() {
            let Some(ground) = other(grounds, feed) else {
                wrong.push("no ground switch to try it with".into());
                break;
            };
            let header = powered(feed, ground, voltage);
            let run = link.run(&header, &[Step::Voltage { pin: feed }, Step::Current])?;
            for record in &run.seen {
                match record {
                    Seen::Voltage(Some(seen)) => {
                        let off = u32::from(*seen).abs_diff(millivolts);
                        if off * 1_000 > millivolts * TOLERANCE_PER_MILLE {
                            wrong.push(format!("position {feed} shows {seen} mV"));
                        }
                    }
                    Seen::Voltage(None) => wrong.push(format!("position {feed} is not measured")),
                    Seen::Current(ua) => largest_ua = largest_ua.max(*ua),
                    Seen::Levels(_) => {}
                }
            }
            let rest = link.run(&unpowered(40, 0), &[Step::Voltage { pin: feed }])?;
            if let Some(Seen::Voltage(Some(seen))) = rest.seen.first()
                && *seen >= 300
            {
                wrong.push(format!("position {feed} keeps {seen} mV at rest"));
            }
        }
        lines.push(line(what, wrong, format!("{} positions, and 0 V at rest", feeds.count())));
    }
    let mut wrong = Vec::new();
    for ground in grounds.iter() {
        let Some(feed) = other(feeds, ground) else {
            wrong.push("no feed switch to try them with".into());
            break;
        };
        let header = powered(feed, ground, Voltage::V3_3);
        let steps = [keep(Rail::Off, Rail::High), Step::Sample, keep(Rail::Off, Rail::Off)];
        let run = link.run(&header, &steps)?;
        let expected = SOCKET.with(ground, false);
        match levels(&run.seen).first() {
            Some(seen) if *seen == expected => {}
            Some(seen) => wrong.push(format!(
                "with position {ground} grounded, position {} is wrong",
                numbers(Pins(seen.0 ^ expected.0))
            )),
            None => wrong.push(format!("position {ground} was not sampled")),
        }
    }
    lines.push(line("ground switches", wrong, format!("{} positions", grounds.count())));
    let drawn = if largest_ua >= ZERO_UA {
        vec![format!("the empty socket draws {largest_ua} µA")]
    } else {
        Vec::new()
    };
    lines.push(line("current of the empty socket", drawn, format!("{largest_ua} µA")));
    Ok(())
}

fn line(what: &'static str, wrong: Vec<String>, fine: String) -> SelftestLine {
    let ok = wrong.is_empty();
    SelftestLine { what, ok, sentence: if ok { fine } else { wrong.join("; ") } }
}
