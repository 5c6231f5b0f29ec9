//! `check PART`: one chip.

mod memory;
mod save;

pub use memory::mark;

use crate::args::{Check, General};
use crate::exit::{Failure, Status};
use crate::output::Output;
use crate::testers::Opened;
use crate::{library, progress, verdict};
use dipsift_bench::memory::{MemoryProgress, MemoryWish};
use dipsift_bench::{Prepared, Refused};
use indicatif::ProgressBar;
use serde_json::json;
use std::ops::ControlFlow;
use std::sync::Arc;

/// Checks the chip in the socket.
pub fn run(args: &Check, general: &General, out: &mut Output) -> Result<Status, Failure> {
    let library = library::load(general)?;
    let named = library::find(&library, &args.part)?;
    let wish = memory::wish(&args.memory, &named)?;
    let mut opened = Opened::open(&args.tester, &library, Some(&args.part))?;
    opened.interruptible();
    let prepared = opened.bench.prepare(&named.part, named.family);
    if !out.json {
        introduce(out, &named, &opened, &prepared)?;
    }
    let (report, run) = match &prepared {
        Ok(prepared) if prepared.memory.is_some() && args.repeat == 1 => {
            let run = memory::check(&mut opened.bench, prepared, &wish, args.seated, out);
            (run.report.clone(), Some(run))
        }
        Ok(prepared) => {
            let bar = match args.repeat {
                1 => ProgressBar::hidden(),
                times => progress::bar(out, "check {pos} of {len}", times.into()),
            };
            let told = &mut |now: &MemoryProgress| {
                bar.set_position(now.done);
                ControlFlow::Continue(())
            };
            let bulk = MemoryWish::bulk();
            let run = opened.bench.check_repeated(prepared, &bulk, args.seated, args.repeat, told);
            bar.finish_and_clear();
            (run.report, None)
        }
        Err(refused) => (refused.report(opened.bench.nature()), None),
    };
    if opened.bench.link().stopped() {
        return Err(Failure::interrupted());
    }
    let status = verdict::status(report.outcome);
    if out.json {
        let mut body = opened.json();
        body["assumption"] = json!(named.assumption);
        body["checks"] = json!(args.repeat);
        body["report"] = json!(report);
        out.object(status, body)?;
    } else {
        let chip = prepared.as_ref().ok().map(|prepared| (&*prepared.part, &prepared.package));
        verdict::print(out, &report, chip)?;
    }
    if let (Some(run), Ok(prepared)) = (run, &prepared) {
        memory::files(&args.memory, prepared, &run, out)?;
    }
    Ok(status)
}

/// Says what is checked, on what, and how it is seated and fed.
fn introduce(
    out: &mut Output,
    named: &library::Named,
    opened: &Opened,
    prepared: &Result<Arc<Prepared>, Refused>,
) -> Result<(), Failure> {
    out.labelled("chip", &format!("{}, {}", named.name, named.part.title))?;
    if let Some(assumption) = &named.assumption {
        out.labelled("", assumption)?;
    }
    out.labelled("tester", &opened.words())?;
    if let Ok(prepared) = prepared {
        out.labelled("seating", &prepared.placement.words())?;
        out.labelled("supply", prepared.supply.reason)?;
        memory::introduce(out, named, prepared)?;
    }
    Ok(())
}
