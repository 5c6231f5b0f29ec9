//! How many stuck faults the vectors of the library's parts find.

use crate::faults::{self, FaultyChips, Site};
use crate::structure::Structure;
use crate::{Conditions, generate};
use dipsift_language::{Library, Node, PackageKind, Part};
use dipsift_wire::Step;
use std::sync::Arc;

/// The stuck faults of a part, and those of them that its vectors do not find.
fn grade(part: &Arc<Part>) -> (usize, Vec<faults::Fault>) {
    let family = part.made[0];
    let package = part.package(PackageKind::Dip, family).expect("a package");
    let conditions = Conditions::reference(family);
    let made = generate(part, package, &conditions).expect("vectors");
    let structure = Structure::new(part);
    let all: Vec<_> = (0..structure.sections.len())
        .flat_map(|section| faults::of_section(part, &structure, section))
        .collect();
    let mut faulty = FaultyChips::new(part, package, &conditions, &all);
    for step in &made.steps {
        if let Step::Expect { pins, high } = *step {
            faulty.compare(pins, high);
            faulty.drop_done();
        }
        faulty.run(step);
    }
    (all.len(), faulty.undetected())
}

#[test]
fn stuck_inputs_and_registers_are_found_and_nearly_all_gates() {
    let (mut all, mut missed) = (0, 0);
    for part in Library::builtin().iter().filter(|part| part.memory.is_none()) {
        let (count, open) = grade(part);
        println!("{}: {} of {count} stuck faults", part.number, count - open.len());
        all += count;
        missed += open.len();
        for fault in open {
            let needed = match fault.site {
                Site::Pin(_) => true,
                Site::Node(node) => matches!(part.network.node(node), Node::State(_)),
            };
            assert!(!needed, "{}: {fault:?}", part.number);
        }
    }
    println!("{} of {all} in all", all - missed);
    // What is left are gates of conditions that end in unknown, and rows that earlier ones cover.
    assert!(missed * 100 <= all * 2, "{missed} of {all} stuck faults are missed");
}
