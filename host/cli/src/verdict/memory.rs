//! What a memory has shown, on screen.

use crate::output::Output;
use dipsift_bench::Report;
use dipsift_bench::memory::{
    ContentsReport, GradeReport, Kept, MarchReport, MemoryReport, RetentionReport,
};
use std::io::{self, Write};

/// How many rows are named after a pause.
const NAMED: usize = 6;

/// Prints the memory's part of a report.
pub fn print(out: &mut Output, report: &Report, memory: &MemoryReport) -> io::Result<()> {
    if !memory.diagnosis.is_empty() {
        writeln!(out)?;
        out.heading("what failed")?;
        out.items(memory.diagnosis.iter().map(String::as_str))?;
    }
    if let Some(contents) = &memory.contents {
        writeln!(out)?;
        self::contents(out, memory, contents)?;
    }
    if let Some(grade) = &memory.grade {
        writeln!(out)?;
        self::grade(out, grade)?;
    }
    if let Some(retention) = &memory.retention {
        writeln!(out)?;
        self::retention(out, retention)?;
    }
    if let Some(march) = &memory.march {
        writeln!(out)?;
        self::march(out, march, report.failures == 0)?;
    }
    Ok(())
}

fn march(out: &mut Output, march: &MarchReport, passed: bool) -> io::Result<()> {
    out.labelled("march", &format!("{}: {}", march.name, march.notation))?;
    let backgrounds: Vec<String> =
        march.backgrounds.iter().map(|word| format!("{word:X}")).collect();
    let end = if march.complete { "" } else { ", ended early" };
    out.labelled(
        "",
        &format!(
            "{} reads and writes{end}; data background{} {} and their complements; times of {} ns",
            march.operations,
            if backgrounds.len() == 1 { "" } else { "s" },
            backgrounds.join(" "),
            march.access_ns,
        ),
    )?;
    if passed {
        let list = |names: &[String]| {
            if names.is_empty() { "none".to_string() } else { names.join(", ") }
        };
        out.labelled("", &format!("finds all of: {}", list(&march.finds)))?;
        if !march.finds_some.is_empty() {
            out.labelled("", &format!("finds some of: {}", list(&march.finds_some)))?;
        }
        out.labelled("", &format!("cannot find: {}", list(&march.misses)))?;
        out.labelled("", "`dipsift march coverage` explains the classes of faults")?;
    }
    Ok(())
}

fn grade(out: &mut Output, grade: &GradeReport) -> io::Result<()> {
    let measured = match grade.fastest_ns {
        Some(ns) => format!(
            "all cells read right {ns} ns after the {}, the chip's own time being {} to {} ns",
            grade.event,
            ns.saturating_sub(grade.late_ns),
            ns + grade.early_ns,
        ),
        None => {
            format!("cells read wrong however long after the {} they were sampled", grade.event)
        }
    };
    out.labelled("speed", &measured)?;
    for line in &grade.grades {
        let mark = if line.mark.is_empty() { "no mark".into() } else { format!("-{}", line.mark) };
        let word = match line.compares {
            Kept::Keeps => "reads within it",
            Kept::Slower => "slower",
            Kept::NotDistinguishable => "not distinguishable",
        };
        let row = format!(
            "{mark:<8} {:>5} ns {:>5} ns after the {}: {word}",
            line.access_ns, line.promised_ns, grade.event
        );
        writeln!(out, "          {row}")?;
    }
    out.labelled(
        "",
        "a chip at room temperature reads faster than its grade: a measured time never upgrades \
         its dash number",
    )
}

fn retention(out: &mut Output, retention: &RetentionReport) -> io::Result<()> {
    for (index, pause) in retention.pauses.iter().enumerate() {
        let label = if index == 0 { "retention" } else { "" };
        let what = match (pause.specified, retention.rows > 0) {
            (true, true) => "specified refresh interval",
            (true, false) => "pause, both values",
            _ => "longer, as information",
        };
        let kept = if pause.lost_bits == 0 {
            "all kept".to_string()
        } else if pause.rows.is_empty() {
            format!("bits lost: {}", pause.lost_bits)
        } else {
            let named: Vec<String> = pause.rows.iter().take(NAMED).map(u32::to_string).collect();
            let more = if pause.rows.len() > NAMED { " …" } else { "" };
            format!(
                "bits lost: {}; rows with losses: {} ({}{more})",
                pause.lost_bits,
                pause.rows.len(),
                named.join(" ")
            )
        };
        out.labelled(label, &format!("{} ms, {what}: {kept}", pause.ms))?;
    }
    Ok(())
}

fn contents(out: &mut Output, memory: &MemoryReport, contents: &ContentsReport) -> io::Result<()> {
    out.labelled(
        "contents",
        &format!(
            "{} words of {} bits; sum {:08X}; CRC-32 {:08X}",
            memory.words, memory.bits, contents.sum, contents.crc32
        ),
    )?;
    let [first, second] = contents.sampled_ns;
    out.labelled(
        "",
        &format!(
            "read twice, sampled {first} ns and {second} ns after the select; {} words differ",
            contents.differing
        ),
    )
}
