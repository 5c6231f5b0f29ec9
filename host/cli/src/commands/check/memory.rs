//! `check` of a memory: what was asked for, progress, and the files that come of it.

use super::save;
use crate::args::MemoryArgs;
use crate::commands::march;
use crate::exit::Failure;
use crate::library::Named;
use crate::output::{Output, WIDTH};
use crate::progress;
use dipsift_bench::memory::{MarchWish, Mark, MemoryProgress, MemoryRun, MemoryWish};
use dipsift_bench::{Bench, Prepared};
use dipsift_language::{Memory, Part};
use dipsift_link::Transport;
use std::io::Write;
use std::ops::ControlFlow;

/// Ultraviolet light erases, and the lamps for it hurt.
const WINDOW: &str = "keep a label over the window of an erasable part: daylight fades it over \
                      months, and an ultraviolet lamp harms eyes and skin";

/// What the arguments ask for. An option that the part cannot serve is wrong usage.
pub fn wish(args: &MemoryArgs, named: &Named) -> Result<MemoryWish, Failure> {
    let Some(memory) = &named.part.memory else {
        return match args.given() {
            Some(option) => {
                Err(Failure::usage(format!("{option} is for memories, and {} is none", named.name)))
            }
            None => Ok(MemoryWish::default()),
        };
    };
    let read_only = memory.write.is_none();
    match args.given() {
        Some(option) if read_only && option != "--save" => {
            return Err(Failure::usage(format!(
                "{option} needs a memory that is written, and {} is only read here",
                named.name
            )));
        }
        _ if !read_only && args.save.is_some() => {
            return Err(Failure::usage(format!(
                "--save is for parts that are only read, and a check of {} writes over what it holds",
                named.name
            )));
        }
        _ => {}
    }
    let march = match &args.march {
        Some(text) => {
            let asked = march::read(text)?;
            let name = asked.published.map(|test| test.name.to_string());
            MarchWish::Own { name, march: asked.march }
        }
        None if args.quick => MarchWish::Quick,
        None if args.thorough => MarchWish::Thorough,
        None => MarchWish::Usual,
    };
    if let Some(path) = &args.map {
        save::map_format(path)?;
    }
    Ok(MemoryWish {
        march,
        mark: mark(memory, named),
        grade: args.grade,
        retention: args.retention,
        all_failures: args.map.is_some(),
    })
}

/// The speed mark, where its meaning is known.
pub fn mark(memory: &Memory, named: &Named) -> Option<Mark> {
    let text = named.speed.clone()?;
    let access_ns = memory.access_ns(named.maker.as_deref(), &text)?;
    Some(Mark { text, access_ns })
}

/// What a mark means, and what to keep in mind.
pub fn introduce(out: &mut Output, named: &Named, prepared: &Prepared) -> Result<(), Failure> {
    let (Some(memory), Some(layout)) = (&named.part.memory, &prepared.memory) else {
        return Ok(());
    };
    if let Some(words) = mark_words(memory, named) {
        out.labelled("speed", &words)?;
    }
    if layout.is_read_only() && erasable(&named.part) {
        out.labelled("caution", WINDOW)?;
    }
    Ok(())
}

fn erasable(part: &Part) -> bool {
    part.title.contains("erasable read-only") && !part.title.contains("electrically")
}

fn mark_words(memory: &Memory, named: &Named) -> Option<String> {
    let text = named.speed.as_deref()?;
    if let Some(mark) = mark(memory, named) {
        return Some(format!("-{text} is {} ns", mark.access_ns));
    }
    let readings: Vec<String> = memory
        .readings(text)
        .iter()
        .map(|(maker, ns)| match maker {
            Some(maker) => format!("{ns} ns where the marking begins with {maker}"),
            None => format!("{ns} ns with other makers"),
        })
        .collect();
    Some(format!(
        "-{text} depends on the maker: {}; the slowest grade is tested",
        readings.join(", ")
    ))
}

/// Checks the memory, with a progress bar.
pub fn check<T: Transport>(
    bench: &mut Bench<T>,
    prepared: &Prepared,
    wish: &MemoryWish,
    seated: bool,
    out: &Output,
) -> MemoryRun {
    let bar = progress::bar(out, "{msg}", 0);
    let run = bench.check_memory(prepared, wish, seated, &mut |now: &MemoryProgress| {
        bar.set_message(now.stage);
        bar.set_length(now.all);
        bar.set_position(now.done);
        ControlFlow::Continue(())
    });
    bar.finish_and_clear();
    run
}

/// Writes the files that were asked for.
pub fn files(
    args: &MemoryArgs,
    prepared: &Prepared,
    run: &MemoryRun,
    out: &mut Output,
) -> Result<(), Failure> {
    let Some(layout) = &prepared.memory else { return Ok(()) };
    if let Some(path) = &args.save {
        if run.words.is_empty() {
            return Err(Failure::trouble(format!(
                "nothing was read, and {} is not written",
                path.display()
            )));
        }
        let differing = run
            .report
            .memory
            .as_ref()
            .and_then(|memory| memory.contents.as_ref())
            .is_some_and(|contents| contents.differing > 0);
        save::contents(path, &run.words, layout.bits())?;
        if !out.json {
            let doubt = if differing { ", as first read: the second read differs" } else { "" };
            out.labelled("saved", &format!("{}{doubt}", path.display()))?;
        }
    }
    if let Some(map) = &run.map
        && !out.json
    {
        writeln!(out)?;
        write!(out, "{}", map.terminal(WIDTH))?;
    }
    match (&args.map, &run.map) {
        (Some(path), Some(map)) => {
            save::map(path, map)?;
            if !out.json {
                out.labelled("map", &path.display().to_string())?;
            }
        }
        (Some(path), None) if !out.json => {
            let words = format!("no cell failed: {} is not written", path.display());
            out.labelled("map", &words)?;
        }
        _ => {}
    }
    Ok(())
}
