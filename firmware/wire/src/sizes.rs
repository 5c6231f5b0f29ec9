//! The largest sizes, computed from the shape of the types and checked at compile time.
//!
//! Sizes are those of postcard: integers above a byte are varints of seven bits a byte; a
//! collection is its length, then its elements; an enum is its index, then the variant.

use crate::cobs::overhead;
use crate::frame::CRC_BYTES;
use crate::{
    MAX_ADDRESS, MAX_BACKGROUNDS, MAX_CAPTURE, MAX_CODE, MAX_ELEMENTS, MAX_FIRST, MAX_MESSAGE,
    MAX_MISSES, MAX_MOVES, MAX_NAME, MAX_NOTE, MAX_OPERATIONS, MAX_PAGE, MAX_WIDTH, MAX_WORDS,
};

const U16: usize = 3;
const U32: usize = 5;
const U64: usize = 10;
/// An enum's index: no enum has more than 127 variants.
const TAG: usize = 1;

/// A varint length up to `max`, then that many elements.
const fn list(max: usize, element: usize) -> usize {
    let length = if max < 1 << 7 { 1 } else { 2 };
    assert!(max < 1 << 14);
    length + max * element
}

const RANGE: usize = 2;
const POWER: usize = 2 * U64 + TAG + U32;
const HEADER: usize = TAG + 2 + (TAG + POWER) + 2 * U32 + 1;
const WINDOW: usize = U32 + 1 + list(MAX_CODE, 1);
const CAPABILITIES: usize = 2 * U64 + 2 + 3 * U32 + U16 + 2 * U32 + 2 * U16 + 2 * U32 + 1;
const HELLO: usize = RANGE + 8 + list(16, 1) + 2 * TAG + CAPABILITIES;
const STATUS: usize = 3 * U32 + 1;
const REFUSAL: usize = TAG + if RANGE > U16 { RANGE } else { U16 };
const FAILURE: usize = (TAG + 3 + U32) + 3 * U64;
const PIN_COUNT: usize = 1 + 3 * U16;
const SUMMARY: usize =
    (TAG + U32) + 2 * U32 + list(40, PIN_COUNT) + list(MAX_FIRST, FAILURE) + 2 * U32;
const RAN: usize = U32 + list(MAX_CAPTURE, 1) + (TAG + SUMMARY);

const NAME: usize = list(MAX_NAME, 1);
const STORED_PART: usize = NAME + 4 + list(MAX_NOTE, 1);
const PAGE: usize = U16 + list(MAX_PAGE, STORED_PART);
const ARMED: usize = TAG + NAME + 1;
const HEALTH: usize = TAG + (TAG + 1) + (TAG + U32);
const CYCLE: usize = list(MAX_MOVES, TAG + 2 * U64);
const ELEMENT: usize = TAG + 1 + list(MAX_OPERATIONS, TAG);
const MARCH_SETUP: usize = list(MAX_ADDRESS, 1)
    + (TAG + 2)
    + 2 * list(MAX_WIDTH, 1)
    + U32
    + 2 * U64
    + 2 * TAG
    + 2 * CYCLE
    + (U32 + 1)
    + (TAG + CYCLE + U16 + U32)
    + list(MAX_BACKGROUNDS, U16)
    + list(MAX_ELEMENTS, ELEMENT)
    + 1
    + U32;
const MISS: usize = 3 + U32 + U16;
const MARCHED: usize = list(MAX_MISSES, MISS) + U32 + (TAG + SUMMARY);
const WORDS: usize = list(MAX_WORDS, U16) + (TAG + SUMMARY);

const fn largest(sizes: &[usize]) -> usize {
    let mut largest = 0;
    let mut index = 0;
    while index < sizes.len() {
        if sizes[index] > largest {
            largest = sizes[index];
        }
        index += 1;
    }
    largest
}

/// The most bytes of a request, without its CRC.
pub(crate) const REQUEST: usize =
    U16 + TAG + largest(&[RANGE, HEADER, WINDOW, U16, TAG + NAME, MARCH_SETUP, U32 + U16]);
/// The most bytes of a reply, without its CRC.
pub(crate) const REPLY: usize =
    U16 + TAG + largest(&[HELLO, RAN, STATUS, REFUSAL, PAGE, ARMED, HEALTH, MARCHED, WORDS]);
/// The most bytes of a step.
pub(crate) const STEP: usize = TAG + largest(&[2 * U64, 1 + U32]);
/// The most bytes of a record.
pub(crate) const SEEN: usize = TAG + largest(&[U64, 1 + U16, U32]);

const _: () = assert!(REQUEST + CRC_BYTES <= MAX_MESSAGE);
const _: () = assert!(REPLY + CRC_BYTES <= MAX_MESSAGE);

/// The most bytes of a frame with its closing zero byte.
pub const MAX_FRAME: usize = MAX_MESSAGE + overhead(MAX_MESSAGE) + 1;

#[cfg(test)]
mod tests {
    use super::*;
    use crate::*;
    use heapless::Vec;

    fn size<T: serde::Serialize>(value: &T) -> usize {
        postcard::to_slice(value, &mut [0; 4096]).unwrap().len()
    }

    fn full<T: Clone, const N: usize>(value: T) -> Vec<T, N> {
        core::iter::repeat_n(value, N).collect()
    }

    const EVERY: Pins = Pins(u64::MAX);

    #[test]
    fn the_largest_request_is_as_computed() {
        let window = Window { index: u32::MAX, last: true, code: full(0) };
        assert_eq!(size(&window), WINDOW);
        let header = Header {
            kind: Kind::Stored,
            pins: 40,
            shift: 9,
            power: Some(Power {
                feed: EVERY,
                ground: EVERY,
                voltage: Voltage::V5,
                limit_ua: u32::MAX,
            }),
            settle_ns: u32::MAX,
            keeper_ns: u32::MAX,
            capture: true,
        };
        assert_eq!(size(&header), HEADER);
    }

    #[test]
    fn the_largest_reply_is_as_computed() {
        let place = Place::March { element: 9, operation: 9, background: 9, address: u32::MAX };
        let failure = Failure { place, pins: EVERY, expected: EVERY, seen: EVERY };
        let count = PinCount { pin: 9, low: u16::MAX, high: u16::MAX, held: u16::MAX };
        let summary = Summary {
            ended: Ended::Tripped { step: u32::MAX },
            steps: u32::MAX,
            failures: u32::MAX,
            pins: full(count),
            first: full(failure),
            current_min_ua: u32::MAX,
            current_max_ua: u32::MAX,
        };
        let ran = Ran { index: u32::MAX, seen: full(0), summary: Some(summary) };
        assert_eq!(size(&Reply { sequence: u16::MAX, answer: Answer::Ran(ran) }), REPLY);
        let hello = Hello {
            versions: VERSIONS,
            schema: [0; 8],
            commit: core::iter::repeat_n('x', 16).collect(),
            nature: Nature::Real,
            reset: ResetCause::Unknown,
            capabilities: Capabilities {
                feed: u64::MAX,
                ground: u64::MAX,
                v3_3: true,
                v5: true,
                light_keeper_ohms: u32::MAX,
                firm_keeper_ohms: u32::MAX,
                series_ohms: u32::MAX,
                drive_mv: u16::MAX,
                current_max_ua: u32::MAX,
                current_step_ua: u32::MAX,
                window_bytes: u16::MAX,
                window_steps: u16::MAX,
                step_ns: u32::MAX,
                sample_ns: u32::MAX,
                kinds: 9,
            },
        };
        assert_eq!(size(&hello), HELLO);
    }

    #[test]
    fn the_largest_page_and_the_small_replies_are_as_computed() {
        let name: heapless::String<MAX_NAME> = core::iter::repeat_n('x', MAX_NAME).collect();
        let part = StoredPart {
            name: name.clone(),
            kind: 9,
            pins: 40,
            shift: 9,
            runnable: true,
            note: core::iter::repeat_n('x', MAX_NOTE).collect(),
        };
        assert_eq!(size(&part), STORED_PART);
        assert_eq!(size(&Page { count: u16::MAX, parts: full(part) }), PAGE);
        assert_eq!(size(&Some(Armed { name, held: true })), ARMED);
        let health = Health { clock: Clock::Slow, brown_out: Some(3), stack_free: Some(u32::MAX) };
        assert_eq!(size(&health), HEALTH);
    }

    #[test]
    fn the_largest_march_is_as_computed() {
        let cycle: Cycle = full(Move::Set { pins: EVERY, high: EVERY });
        let element = Element::Each { order: Order::Any, operations: full(Operation::W1) };
        let setup = MarchSetup {
            address: full(40),
            strobed: Some(Strobed { row_bits: 9, column_bits: 9 }),
            data_in: full(40),
            data_out: full(40),
            words: u32::MAX,
            control: EVERY,
            idle: EVERY,
            light: Rail::High,
            firm: Rail::High,
            read: cycle.clone(),
            write: cycle.clone(),
            start: StartUp { pause_us: u32::MAX, cycles: 9 },
            refresh: Some(Refresh { cycle, rows: u16::MAX, interval_ns: u32::MAX }),
            backgrounds: full(u16::MAX),
            elements: full(element),
            any_down: true,
            most_failures: u32::MAX,
        };
        assert_eq!(size(&setup), MARCH_SETUP);
        let request = Request { sequence: u16::MAX, ask: Ask::March(setup) };
        assert_eq!(size(&request), REQUEST);
        assert!(size(&Element::Pause { ms: u32::MAX, refresh: true }) <= ELEMENT);
        assert!(
            size(&Move::Wait { ns: u32::MAX }) <= size(&Move::Set { pins: EVERY, high: EVERY })
        );
        let miss =
            Miss { element: 9, operation: 9, background: 9, address: u32::MAX, seen: u16::MAX };
        let marched = Marched { misses: full(miss), operations: u32::MAX, summary: None };
        assert_eq!(size(&marched) + SUMMARY, MARCHED);
        let words = Words { words: full(u16::MAX), summary: None };
        assert_eq!(size(&words) + SUMMARY, WORDS);
        let refusal = Refusal::March(MarchFlaw::Cycle { cycle: 9, index: 9 });
        assert!(size(&refusal) <= REFUSAL);
    }

    #[test]
    fn the_largest_step_and_record_are_as_computed() {
        assert_eq!(size(&Step::Drive { pins: EVERY, high: EVERY }), STEP);
        assert!(size(&Step::Pulse { pin: 40, times: u32::MAX }) <= STEP);
        assert_eq!(size(&Seen::Levels(EVERY)), SEEN);
        assert!(size(&Seen::Voltage(Some(u16::MAX))) <= SEEN);
        assert!(size(&Seen::Current(u32::MAX)) <= SEEN);
    }
}
