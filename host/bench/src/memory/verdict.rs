//! From what a memory did to a verdict, in words.

use super::Mark;
use super::layout::Layout;
use super::report::{ContentsReport, GradeReport, Kept, RetentionReport};
use crate::{Outcome, Prepared, Reason, Report};
use dipsift_wire::{Ended, MarchSetup, Miss, Summary};

/// How many rows are named.
const NAMED: usize = 8;

/// Judges the march.
pub(super) fn march(
    prepared: &Prepared,
    layout: &Layout,
    setup: &MarchSetup,
    misses: &[Miss],
    summary: &Summary,
    report: &mut Report,
) {
    if summary.failures == 0 {
        report.outcome = Outcome::Go;
        report.reason = Reason::Functional;
        report.not_tested.clone_from(&prepared.not_tested);
        return;
    }
    if let Some(sentence) = half(layout, misses, summary) {
        report.outcome = Outcome::Go;
        report.reason = Reason::Functional;
        report.sentences.push(sentence);
        report.not_tested.clone_from(&prepared.not_tested);
        return;
    }
    report.outcome = Outcome::NoGo;
    report.reason = Reason::Cells;
    let mut words: Vec<u32> = misses.iter().map(|miss| miss.address).collect();
    words.sort_unstable();
    words.dedup();
    let ended = if summary.ended == Ended::Failures { ", where the march was ended" } else { "" };
    report.sentences.push(format!(
        "{} reads failed, in {} of {} words{ended}",
        summary.failures,
        words.len(),
        layout.words,
    ));
    let mut bits = 0;
    for miss in misses {
        bits |= (miss.seen ^ setup.expected(miss).unwrap_or(0)) & layout.mask();
    }
    if layout.bits() > 1 {
        let names: Vec<&str> = layout
            .data_names
            .iter()
            .enumerate()
            .filter(|(bit, _)| bits >> bit & 1 == 1)
            .map(|(_, name)| name.as_str())
            .collect();
        report.sentences.push(format!("failing bits: {}", names.join(", ")));
    }
}

/// A memory that has failed its march and passes it with more time.
pub(super) fn slow(access_ns: u32, sample_ns: u32, mark: Option<&Mark>, report: &mut Report) {
    report.reason = Reason::Slow;
    let grade = match mark {
        Some(mark) => format!("-{}, {access_ns} ns", mark.text),
        None => format!("its slowest grade, {access_ns} ns"),
    };
    report.sentences.push(format!(
        "slow: it passes when it is sampled {sample_ns} ns after its last event, and does not keep \
         {grade}"
    ));
}

/// A part that was sold with one good half, and has one: which it is.
fn half(layout: &Layout, misses: &[Miss], summary: &Summary) -> Option<String> {
    let bit = layout.half?;
    // A march that was ended early has not seen all of either half.
    if summary.ended != Ended::Complete {
        return None;
    }
    let high = misses.iter().filter(|miss| miss.address >> bit & 1 == 1).count();
    let line = usize::from(bit) % layout.address_names.len();
    let (name, good) = (&layout.address_names[line], if high == 0 { "high" } else { "low" });
    let column = layout.strobed.is_none_or(|parts| bit < parts.column_bits);
    let strobe = if column { "column" } else { "row" };
    (high == 0 || high == misses.len()).then(|| {
        format!(
            "its half with {name} {good} at the {strobe} strobe is good, the other is not: \
             compare with the letter or digit that its marking gives"
        )
    })
}

/// Judges the retention of a memory that has passed its march.
pub(super) fn retention(found: &RetentionReport, report: &mut Report) {
    let Some(first) = found.pauses.first() else { return };
    if first.lost_bits == 0 {
        return;
    }
    report.outcome = Outcome::NoGo;
    report.reason = Reason::Retention;
    let what = if first.specified && found.rows > 0 {
        "the specified refresh interval"
    } else {
        "a pause"
    };
    let place =
        if first.rows.is_empty() { String::new() } else { format!(" in {}", rows(&first.rows)) };
    report.sentences.push(format!(
        "{} bits did not keep their data over {what} of {} ms{place}",
        first.lost_bits, first.ms
    ));
}

/// Rows as words: `row 5`, `rows 5, 7 and 12 more`.
pub(super) fn rows(rows: &[u32]) -> String {
    let named: Vec<String> = rows.iter().take(NAMED).map(u32::to_string).collect();
    let named = named.join(", ");
    match rows {
        [_] => format!("row {named}"),
        more if more.len() > NAMED => format!("rows {named} and {} more", more.len() - NAMED),
        _ => format!("rows {named}"),
    }
}

/// Judges the speed of a memory that has passed its march.
pub(super) fn grade(found: &GradeReport, report: &mut Report) {
    let (Some(mark), Some(access_ns), Some(kept)) = (&found.mark, found.access_ns, found.kept)
    else {
        return;
    };
    match kept {
        Kept::Keeps => {
            report.sentences.push(format!("keeps -{mark}, {access_ns} ns, at room temperature"));
        }
        Kept::NotDistinguishable => report.sentences.push(format!(
            "-{mark}, {access_ns} ns, is within this bench's uncertainty of what was measured: \
             neither kept nor missed"
        )),
        Kept::Slower => {
            report.outcome = Outcome::NoGo;
            report.reason = Reason::Slow;
            report.sentences.push(format!("slower than -{mark}, {access_ns} ns"));
        }
    }
}

/// Judges what a part that is only read has shown.
pub(super) fn contents(
    prepared: &Prepared,
    layout: &Layout,
    found: &ContentsReport,
    differing: &[u32],
    report: &mut Report,
) {
    if found.differing > 0 {
        report.outcome = Outcome::NoGo;
        report.reason = Reason::Contents;
        let all = found.differing == layout.words;
        report.sentences.push(if all {
            "no word reads alike twice: the outputs follow the keepers, nothing drives them".into()
        } else {
            let at: Vec<String> = differing.iter().map(|at| format!("0x{at:X}")).collect();
            let more = if found.differing as usize > at.len() { " and others" } else { "" };
            format!(
                "{} of {} words read differently the second time, at {}{more}: weak, slow or \
                 half-programmed cells, or a bad contact",
                found.differing,
                layout.words,
                at.join(", ")
            )
        });
        return;
    }
    report.outcome = Outcome::Go;
    report.reason = Reason::Functional;
    report.sentences.push(match found.all_bits {
        Some(high) => format!(
            "blank: every bit reads {}; whether it can be programmed was not tried",
            u8::from(high)
        ),
        None => "programmed: it holds something, and reads alike twice".into(),
    });
    report.not_tested.clone_from(&prepared.not_tested);
}
