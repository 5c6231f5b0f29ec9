//! How long cells keep their data.

use super::Running;
use super::layout::{Layout, Pull, ReadForm};
use super::report::{PauseReport, RetentionReport};
use super::times::Times;
use dipsift_link::{LinkError, Transport};
use dipsift_wire::{Element, Operation, Order};

/// The pause of a static memory in milliseconds: a cell without its load resistor forgets in less
/// (common practice: 100 ms and more).
const STATIC_MS: u32 = 1_000;
/// The longer pauses of a dynamic memory, in refresh intervals.
const LONGER: [u32; 5] = [4, 16, 64, 256, 512];
/// The longest pause in milliseconds.
const LONGEST_MS: u32 = 2_000;
/// After this many failing reads a run ends: by then most of a memory has forgotten.
const MOST: u32 = 20_000;

/// Tries both values over pauses, the specified one first.
pub(crate) fn test<T: Transport>(
    running: &mut Running<'_, T>,
    layout: &Layout,
    times: &Times,
) -> Result<RetentionReport, LinkError> {
    let mut report = RetentionReport::default();
    let interval_ms = match layout.refresh.filter(|_| layout.is_dynamic()) {
        Some((rows, interval_us)) => {
            report.rows = rows;
            Some(interval_us.div_ceil(1_000).max(1))
        }
        None => None,
    };
    let pauses: Vec<u32> = match interval_ms {
        Some(ms) => {
            std::iter::once(ms).chain(LONGER.map(|times| (ms * times).min(LONGEST_MS))).collect()
        }
        None => vec![STATIC_MS],
    };
    for (index, &ms) in pauses.iter().enumerate() {
        let found = pause(running, layout, times, ms, index == 0)?;
        let all = report.rows > 0 && found.rows.len() as u32 >= layout.rows();
        let failed = index == 0 && found.lost_bits > 0;
        report.pauses.push(found);
        if all || failed {
            break;
        }
    }
    Ok(report)
}

fn pause<T: Transport>(
    running: &mut Running<'_, T>,
    layout: &Layout,
    times: &Times,
    ms: u32,
    specified: bool,
) -> Result<PauseReport, LinkError> {
    let each = |operations: &[Operation]| Element::Each {
        order: Order::Up,
        operations: operations.iter().copied().collect(),
    };
    let wait = || Element::Pause { ms, refresh: false };
    let elements = [
        each(&[Operation::W0]),
        wait(),
        each(&[Operation::R0, Operation::W1]),
        wait(),
        each(&[Operation::R1]),
    ];
    let form = ReadForm::usual(times, layout);
    let setup = layout.setup(times, &form, Pull::Up, &elements, &[0], MOST);
    let run = running.march("retention", &setup)?;
    let mut rows: Vec<u32> = Vec::new();
    let mut lost_bits = 0;
    for miss in &run.misses {
        let expected = setup.expected(miss).unwrap_or(0);
        lost_bits += ((miss.seen ^ expected) & layout.mask()).count_ones();
        if let Some(parts) = layout.strobed {
            rows.push(miss.address >> parts.column_bits);
        }
    }
    rows.sort_unstable();
    rows.dedup();
    Ok(PauseReport { ms, specified, lost_bits, rows })
}
