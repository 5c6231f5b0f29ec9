//! `show PART`: all that a person wants to know before reaching for a chip.

use crate::args::{General, Show};
use crate::exit::{Failure, Status};
use crate::output::Output;
use crate::{drawing, functions, library};
use dipsift_bench::{Placement, SupplyChoice};
use dipsift_language::{Class, Family, Package, PackageKind, Part, Role, marking};
use dipsift_simulator::Fixture;
use dipsift_wire::Capabilities;
use serde_json::{Value, json};
use std::io::Write;

/// Shows a part.
pub fn run(args: &Show, general: &General, out: &mut Output) -> Result<Status, Failure> {
    let library = library::load(general)?;
    let named = library::find_to_read(&library, &args.part)?;
    let (part, family) = (&*named.part, named.family);
    let package = part.package(PackageKind::Dip, family);
    // No tester is needed to read about a part: the simulated fixture stands for one.
    let capabilities = Fixture::default().capabilities();
    let placement = package.map(|package| Placement::find(part, package, &capabilities));
    if out.json {
        let body = object(
            &named,
            package,
            placement.as_ref().and_then(|found| found.as_ref().ok()),
            &capabilities,
        );
        out.object(Status::Go, body)?;
        return Ok(Status::Go);
    }
    out.heading(&format!("{}, {}", named.name, part.title))?;
    if let Some(assumption) = &named.assumption {
        out.paragraph("", 0, assumption)?;
    }
    writeln!(out)?;
    match package {
        Some(package) => drawing::draw(out, part, package, &[])?,
        None => out.paragraph("", 0, "no dual in-line package in this family")?,
    }
    writeln!(out)?;
    out.heading("functions, as its description has them")?;
    match &part.memory {
        Some(memory) => out.items([format!(
            "a memory of {} words of {} bits{}",
            memory.words,
            memory.bits,
            if memory.write.is_none() { ", read only" } else { "" },
        )
        .as_str()])?,
        None => {
            out.items(functions::lines(part).iter().map(String::as_str))?;
            if let Some(pin) = part.pins.iter().find(|pin| pin.name.starts_with('/')) {
                let activity = pin.name.trim_start_matches('/');
                let note =
                    format!("{activity} is true while the pin {} is low, and so on", pin.name);
                out.paragraph("    ", 4, &note)?;
            }
        }
    }
    writeln!(out)?;
    out.heading("families and their supply on the simulated fixture")?;
    supplies(out, part)?;
    writeln!(out)?;
    out.heading("seating on the simulated fixture")?;
    match &placement {
        Some(Ok(placement)) => out.items([placement.words().as_str()])?,
        Some(Err(error)) => out.items([error.to_string().as_str()])?,
        None => out.items(["flat packs need an adapter to the socket"])?,
    }
    writeln!(out)?;
    out.heading("cautions")?;
    out.items(cautions(part, family, package).iter().map(String::as_str))?;
    if !part.untested.is_empty() {
        writeln!(out)?;
        out.heading("a check leaves out, beside what every check leaves out")?;
        out.items(part.untested.iter().map(String::as_str))?;
    }
    writeln!(out)?;
    out.heading("written from")?;
    out.items(part.sources.iter().map(String::as_str))?;
    Ok(Status::Go)
}

/// The families, those with the same supply for the same reason together.
fn supplies(out: &mut Output, part: &Part) -> Result<(), Failure> {
    let foreign: Vec<String> = part
        .foreign_supplies()
        .map(|(name, millivolts)| format!("{name} {millivolts:+} mV"))
        .collect();
    if !foreign.is_empty() {
        let missing = format!("never powered here: it needs {}", foreign.join(" and "));
        out.items([missing.as_str()])?;
        return Ok(());
    }
    let mut groups: Vec<(&'static str, Vec<String>)> = Vec::new();
    for &family in &part.made {
        let reason = SupplyChoice::of(part, family).reason;
        match groups.iter_mut().find(|(other, _)| *other == reason) {
            Some((_, names)) => names.push(marking(&part.number, family)),
            None => groups.push((reason, vec![marking(&part.number, family)])),
        }
    }
    for (reason, names) in groups {
        out.items([names.join(" ").as_str()])?;
        out.paragraph("    ", 4, reason)?;
    }
    Ok(())
}

/// What to mind with a part in a family.
fn cautions(part: &Part, family: Family, package: Option<&Package>) -> Vec<String> {
    let mut cautions = Vec::new();
    if family.class() != Class::Ttl {
        cautions.push(
            "electrostatic discharge: handle it earthed, keep it on conductive foam, and seat it \
             only in an unpowered socket"
                .to_string(),
        );
    }
    let heavy: Vec<String> = part
        .pins
        .iter()
        .filter(|pin| pin.load_tenths > 10)
        .map(|pin| {
            let (whole, tenth) = (pin.load_tenths / 10, pin.load_tenths % 10);
            match tenth {
                0 => format!("{} {whole}", pin.name),
                _ => format!("{} {whole}.{tenth}", pin.name),
            }
        })
        .collect();
    if !heavy.is_empty() && family.class() == Class::Ttl {
        cautions.push(format!(
            "heavy inputs, in unit loads: {}; a low that this tester cannot hold is not decided",
            heavy.join(", ")
        ));
    }
    let open: Vec<&str> = part
        .pins
        .iter()
        .filter(|pin| drawing::kind(pin) == "open coll.")
        .map(|pin| pin.name.as_str())
        .collect();
    if !open.is_empty() {
        cautions.push(format!(
            "open collector (or drain): {} {} a resistor to the supply in a circuit",
            open.join(" "),
            if open.len() == 1 { "needs" } else { "need" }
        ));
    }
    if SupplyChoice::below_specification(family) {
        cautions.push(
            "checked at 3.3 V, below the supplies its maker specifies: a go means functional at \
             3.3 V"
                .to_string(),
        );
    }
    if package.is_some_and(|package| !corner_supplies(part, package)) {
        cautions.push(
            "its supply and ground are not where most packages have them: powered in another \
             part's place it is destroyed"
                .to_string(),
        );
    }
    cautions.extend(part.notes.iter().cloned());
    cautions.push(
        "where this description and the maker's data sheet differ, the data sheet decides".into(),
    );
    cautions
}

/// Whether ground is at the last pin of the first row and the supply at the last pin.
fn corner_supplies(part: &Part, package: &Package) -> bool {
    let count = package.pins.len() as u8;
    let role = |number| package.at(number).map(|id| part.pin(id).role);
    role(count / 2) == Some(Role::Ground) && role(count) == Some(Role::Supply)
}

fn object(
    named: &library::Named,
    package: Option<&Package>,
    placement: Option<&Placement>,
    capabilities: &Capabilities,
) -> Value {
    let part = &*named.part;
    let pins: Vec<Value> = package
        .iter()
        .flat_map(|package| {
            (1..=package.pins.len() as u8).map(move |number| (number, package.at(number)))
        })
        .map(|(number, id)| {
            json!({
                "pin": number,
                "name": id.map(|id| &part.pin(id).name),
                "kind": id.map_or(drawing::UNCONNECTED, |id| drawing::kind(part.pin(id))),
                "load_tenths": id.map(|id| part.pin(id).load_tenths),
                "position": placement.map(|placement| placement.position(number)),
            })
        })
        .collect();
    let families: Vec<Value> = part
        .made
        .iter()
        .map(|&family| {
            let supply = SupplyChoice::of(part, family);
            json!({
                "family": family.word(),
                "name": marking(&part.number, family),
                "supply_mv": supply.millivolts(),
                "reason": supply.reason,
            })
        })
        .collect();
    json!({
        "part": part.number,
        "name": named.name,
        "family": named.family.word(),
        "assumption": named.assumption,
        "title": part.title,
        "fixture": { "simulated": true, "drive_mv": capabilities.drive_mv },
        "pins": pins,
        "functions": functions::lines(part),
        "families": families,
        "seating": placement.map(Placement::words),
        "cautions": cautions(part, named.family, package),
        "left_out": part.untested,
        "sources": part.sources,
    })
}
