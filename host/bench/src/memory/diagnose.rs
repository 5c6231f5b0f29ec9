//! What failing reads mean, and where they are.

use super::layout::Layout;
use dipsift_diagnosis::{
    AddressLine, DataLine, Diagnosis, Extent, Half, Map, Observation, Physical, Shape, Slow, Strobe,
};
use dipsift_language::Memory;
use dipsift_wire::{Element, Ended, Miss, Summary};

/// The march whose reads failed.
pub(super) struct Failed<'a> {
    pub elements: &'a [Element],
    pub backgrounds: &'a [u16],
    pub misses: &'a [Miss],
    pub summary: &'a Summary,
    /// Whether all reads are right with more time.
    pub slow: bool,
}

/// The memory as its march saw it.
pub(super) fn shape(number: &str, layout: &Layout, memory: &Memory) -> Shape {
    let pins = || layout.address.iter().zip(&layout.address_names);
    let line = |strobe: Option<Strobe>| {
        move |(pin, name): (&u8, &String)| AddressLine { pin_name: name.clone(), pin: *pin, strobe }
    };
    let address = match layout.strobed {
        None => pins().map(line(None)).collect(),
        Some(parts) => {
            let column = pins().take(parts.column_bits.into()).map(line(Some(Strobe::Column)));
            let row = pins().take(parts.row_bits.into()).map(line(Some(Strobe::Row)));
            column.chain(row).collect()
        }
    };
    let outputs = layout.data_out.iter().zip(&layout.data_names);
    let inputs = layout.data_in.iter().zip(&layout.input_names);
    let data = outputs.zip(inputs).map(|((output_pin, output), (input_pin, input))| DataLine {
        output: output.clone(),
        output_pin: *output_pin,
        input: input.clone(),
        input_pin: *input_pin,
    });
    Shape {
        number: number.into(),
        words: layout.words,
        address,
        data: data.collect(),
        physical: physical(layout, memory),
        refresh_rows: layout.refresh.filter(|_| layout.is_dynamic()).map(|(rows, _)| rows),
    }
}

/// The published order of a static memory; that of a dynamic one is its strobes'.
fn physical(layout: &Layout, memory: &Memory) -> Option<Physical> {
    let array = memory.array.as_ref().filter(|_| !layout.is_dynamic())?;
    // The description lists the most significant first, as the address does.
    let count = memory.address.len();
    let bits = |pins: &[dipsift_language::PinId]| -> Option<Vec<u8>> {
        let bit = |pin| memory.address.iter().position(|at| at == pin);
        pins.iter().map(|pin| Some((count - 1 - bit(pin)?) as u8)).collect()
    };
    Some(Physical { row: bits(&array.row)?, column: bits(&array.column)? })
}

/// The part that a good half of another makes: 64K dynamic parts were sold as 32K ones, chosen by
/// A7 at the column strobe (Oki MSM3732 data sheet) or at the row strobe (TI TMS4532 data sheet);
/// both from memory.
fn half_part(shape: &Shape, half: &Half) -> Option<String> {
    let line = shape.address.get(usize::from(half.line))?;
    let part = match (shape.number.as_str(), line.pin_name.as_str(), line.strobe?) {
        ("4164", "A7", Strobe::Column) => "3732",
        ("4164", "A7", Strobe::Row) => "4532RAM",
        _ => return None,
    };
    let level = if half.high { "high" } else { "low" };
    Some(format!("with {} {level} it still makes a {part}", line.name()))
}

/// What is wrong in sentences, and a map of where. Empty where the reads are not those of the
/// march, which a station whose replies were checked does not send.
pub(super) fn diagnose(shape: &Shape, failed: &Failed<'_>) -> (Vec<String>, Option<Map>) {
    let slow = if failed.slow { &[Slow::Chip][..] } else { &[] };
    let observation = Observation {
        backgrounds: failed.backgrounds,
        elements: failed.elements,
        any_down: false,
        misses: failed.misses,
        extent: match failed.summary.ended {
            Ended::Complete => Extent::Whole,
            _ => Extent::Cut,
        },
        slow,
    };
    let sentences = match Diagnosis::of(shape, &observation) {
        Ok(diagnosis) => {
            let findings = diagnosis.findings.iter().map(|finding| finding.sentence(shape));
            let halves = diagnosis.good_halves.iter().filter_map(|half| half_part(shape, half));
            findings.chain(halves).collect()
        }
        Err(_) => Vec::new(),
    };
    (sentences, Map::of(shape, &observation).ok())
}
