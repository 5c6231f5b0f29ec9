//! Blobs, whole, damaged and hostile. The bytes are laid out by hand after the table in `layout`.

use dipsift_stored::{Blob, BlobError, Found, Next, layout};
use dipsift_wire::{Ended, Kind, Pins};
use proptest::prelude::*;

/// CRC-32 bit by bit, reflected polynomial EDB88320 (IEEE 802.3, 3.2.9).
fn crc32(bytes: &[u8]) -> u32 {
    let step = |crc: u32, _| if crc & 1 == 1 { crc >> 1 ^ 0xedb8_8320 } else { crc >> 1 };
    !bytes.iter().fold(!0, |crc, &byte| (0..8).fold(crc ^ u32::from(byte), step))
}

/// Head and CRC around a directory and what follows it.
fn sealed(count: u16, rest: &[u8]) -> Vec<u8> {
    let mut bytes = b"dsst\x01\0".to_vec();
    bytes.extend(count.to_le_bytes());
    bytes.extend((12 + rest.len() as u32 + 4).to_le_bytes());
    bytes.extend(rest);
    bytes.extend(crc32(&bytes).to_le_bytes());
    bytes
}

/// One vector entry with two phases that share a window, and one of another kind.
fn two_entries() -> Vec<u8> {
    let directory_end = 12 + 2 * 28;
    let header: &[u8] = &[0, 14, 0, 0, 0xe8, 7, 0x90, 0x4e, 0];
    let body_length: usize =
        1 + 6 + 1 + (4 + 8 + 1 + 4 + 1 + 9 + 2 + 6) + (4 + 8 + 1 + 1 + 9 + 2 + 12);
    let pool = directory_end + body_length + 3;
    let mut rest = Vec::new();
    rest.extend(b"2114\0\0\0\0\0\0\0\0\0\0\0\0\x01\x12\x02\0");
    rest.extend(((directory_end + body_length) as u32).to_le_bytes());
    rest.extend(3_u32.to_le_bytes());
    rest.extend(b"74LS00\0\0\0\0\0\0\0\0\0\0\0\x0e\0\0");
    rest.extend((directory_end as u32).to_le_bytes());
    rest.extend((body_length as u32).to_le_bytes());
    rest.extend(b"\x06at 5 V\x02");
    // Passing: the next phase; all else is not decided. One voltage, 100 to 3000 mV.
    rest.extend([3, 2, 2, 2]);
    rest.extend(0_u64.to_le_bytes());
    rest.extend([1, 100, 0, 0xb8, 0x0b]);
    rest.push(9);
    rest.extend(header);
    rest.extend([1, 0]);
    rest.extend((pool as u32).to_le_bytes());
    rest.extend([2, 0]);
    // Go, not decided, no-go, not decided; failing at pin 3 is sure.
    rest.extend([0, 2, 1, 2]);
    rest.extend(4_u64.to_le_bytes());
    rest.push(0);
    rest.push(9);
    rest.extend(header);
    rest.extend([2, 0]);
    for (offset, length) in [(pool, 2_u8), (pool + 2, 1)] {
        rest.extend((offset as u32).to_le_bytes());
        rest.extend([length, 0]);
    }
    rest.extend(b"???");
    rest.extend([8, 14, 7]);
    sealed(2, &rest)
}

#[test]
fn entries_phases_and_windows_are_as_laid_out() {
    let bytes = two_entries();
    let blob = Blob::new(&bytes).unwrap();
    assert_eq!(blob.count(), 2);
    assert!(blob.entries(0).map(|entry| entry.name).eq(["2114", "74LS00"]));
    assert!(blob.entries(1).map(|entry| entry.name).eq(["74LS00"]));
    assert_eq!(blob.entries(2).count(), 0);
    let other = blob.find("2114").unwrap();
    assert_eq!((other.kind, other.pins, other.shift), (1, 18, 2));
    assert!(!other.is_runnable());
    assert_eq!(other.note(), "");
    assert!(blob.find("74LS0").is_none() && blob.find("").is_none());
    let entry = blob.find("74LS00").unwrap();
    assert_eq!((entry.kind, entry.pins, entry.shift, entry.note()), (0, 14, 0, "at 5 V"));
    assert!(entry.is_runnable());
    let phases: Vec<_> = entry.phases().collect();
    assert_eq!(phases.len(), 2);
    assert_eq!((phases[0].header.pins, phases[0].header.settle_ns), (14, 1_000));
    assert!(phases[0].windows().eq([&[8, 14][..]]));
    assert!(phases[1].windows().eq([&[8, 14][..], &[7][..]]));
    for (millivolts, within) in [(99, false), (100, true), (3_000, true), (3_001, false)] {
        assert_eq!(phases[0].in_bounds(0, Some(millivolts)), within, "{millivolts} mV");
    }
    assert!(!phases[0].in_bounds(0, None), "what was not measured is not within limits");
    assert!(!phases[0].in_bounds(1, Some(500)), "nor is what has none");
}

/// An entry of a kind with a single phase, whose windows are the same piece of code.
fn one_march(kind: u8, header: &[u8], code: &[u8], windows: u16) -> Vec<u8> {
    let at = 12_u32 + 28;
    let length = 6 + 4 + 8 + 2 + header.len() as u32 + 2 + 6 * u32::from(windows);
    let mut body: Vec<u8> = [
        b"\x04note\x01".as_slice(),
        &[0, 1, 1, 2],
        &[0; 8],
        &[0, header.len() as u8],
        header,
        &windows.to_le_bytes(),
    ]
    .concat();
    for _ in 0..windows {
        body.extend((at + length).to_le_bytes());
        body.extend((code.len() as u16).to_le_bytes());
    }
    assert_eq!(body.len() as u32, length);
    let mut rest = b"6264\0\0\0\0\0\0\0\0\0\0\0\0".to_vec();
    rest.extend([kind, 28, 0, 0]);
    rest.extend(at.to_le_bytes());
    rest.extend(length.to_le_bytes());
    rest.extend(body);
    rest.extend(code);
    sealed(1, &rest)
}

/// A header of the kind that is given first, without power.
const fn march_header(kind: u8) -> [u8; 9] {
    [kind, 28, 0, 0, 0xe8, 7, 0x90, 0x4e, 0]
}

#[test]
fn a_march_entry_holds_the_message_that_sets_it_up() {
    let message = [7; 300];
    let bytes = one_march(1, &march_header(1), &message, 1);
    let entry = Blob::new(&bytes).unwrap().find("6264").unwrap();
    assert!(entry.is_runnable());
    assert_eq!((entry.kind, entry.note()), (1, "note"));
    let phases: Vec<_> = entry.phases().collect();
    assert_eq!((phases.len(), phases[0].header.kind), (1, Kind::March));
    assert_eq!(phases[0].march(), Some(&message[..]));
    let good = Found { ended: Ended::Complete, agreed: true, failed: Pins::NONE, voltages: true };
    assert_eq!(phases[0].next(&good), Next::Go);
    // As many failing reads as decide end it.
    let failed = Found { ended: Ended::Failures, agreed: false, ..good };
    assert_eq!(phases[0].next(&failed), Next::NoGo);
    assert_eq!(phases[0].next(&Found { ended: Ended::Tripped { step: 9 }, ..good }), Next::NoGo);
    // Its other phases are programs, and so are all of a vector entry.
    let bytes = one_march(1, &march_header(0), &message, 2);
    let entry = Blob::new(&bytes).unwrap().find("6264").unwrap();
    assert!(entry.is_runnable() && entry.phases().all(|phase| phase.march().is_none()));
    let bytes = two_entries();
    let entry = Blob::new(&bytes).unwrap().find("74LS00").unwrap();
    assert!(entry.phases().all(|phase| phase.march().is_none()));
}

#[test]
fn a_march_where_none_may_be_is_no_phase() {
    for (kind, windows) in [(0, 1), (1, 0), (1, 2)] {
        let bytes = one_march(kind, &march_header(1), &[7; 30], windows);
        let entry = Blob::new(&bytes).unwrap().find("6264").unwrap();
        assert!(!entry.is_runnable(), "entry {kind}, {windows} windows");
        assert_eq!(entry.phases().count(), 0);
    }
    // One that is longer than any window.
    let bytes = one_march(1, &march_header(1), &[7; dipsift_wire::MAX_CODE + 1], 1);
    assert!(!Blob::new(&bytes).unwrap().find("6264").unwrap().is_runnable());
}

#[test]
fn what_comes_after_a_phase() {
    let bytes = two_entries();
    let phases: Vec<_> = Blob::new(&bytes).unwrap().find("74LS00").unwrap().phases().collect();
    let good = Found { ended: Ended::Complete, agreed: true, failed: Pins::NONE, voltages: true };
    let bad = Found { agreed: false, failed: Pins(1), ..good };
    assert_eq!(phases[0].next(&good), Next::Phase);
    assert_eq!(phases[0].next(&Found { voltages: false, ..good }), Next::NotDecided);
    assert_eq!(phases[0].next(&bad), Next::NotDecided);
    assert_eq!(phases[1].next(&good), Next::Go);
    assert_eq!(phases[1].next(&bad), Next::NotDecided);
    assert_eq!(phases[1].next(&Found { failed: Pins(5), ..bad }), Next::NoGo, "pin 3 is sure");
    assert_eq!(phases[0].next(&Found { failed: Pins(5), ..bad }), Next::NotDecided);
    let trip = |ended| phases[1].next(&Found { ended, ..good });
    assert_eq!(trip(Ended::Tripped { step: 0 }), Next::NoGo);
    assert_eq!(trip(Ended::TrippedAtPowerUp), Next::NotDecided);
}

#[test]
fn every_changed_bit_and_every_cut_is_noticed() {
    let bytes = two_entries();
    for at in 0..bytes.len() {
        for bit in 0..8 {
            let mut bad = bytes.clone();
            bad[at] ^= 1 << bit;
            assert!(Blob::new(&bad).is_err(), "byte {at} bit {bit}");
        }
        assert!(Blob::new(&bytes[..at]).is_err(), "cut at {at}");
    }
    let longer = [&bytes[..], &[0]].concat();
    assert_eq!(Blob::new(&longer).unwrap_err(), BlobError::Length);
}

#[test]
fn what_is_no_blob_says_why() {
    let reason = |bytes: &[u8]| Blob::new(bytes).unwrap_err();
    assert_eq!(reason(&[]), BlobError::Absent);
    assert_eq!(reason(b"elf"), BlobError::Magic);
    assert_eq!(reason(b"dsst\x02\0rest"), BlobError::Format(2));
    assert_eq!(reason(b"dsst\x01\0\0\0"), BlobError::Length);
    assert_eq!(reason(&sealed(1, &[])), BlobError::Length);
    let mut crc = sealed(0, &[]);
    *crc.last_mut().unwrap() ^= 1;
    assert_eq!(reason(&crc), BlobError::Crc);
    assert_eq!(Blob::new(&sealed(0, &[])).unwrap().count(), 0);
}

/// Reads all that there is to read.
fn exhaust(bytes: &[u8]) {
    let Ok(blob) = Blob::new(bytes) else { return };
    assert!(blob.entries(0).count() <= usize::from(blob.count()));
    for entry in blob.entries(0) {
        assert!(entry.name.len() <= layout::NAME_BYTES);
        assert!(entry.note().len() <= layout::NOTE_BYTES);
        let mut phases = 0;
        for phase in entry.phases() {
            phases += 1;
            assert!(phase.windows().all(|code| code.len() <= dipsift_wire::MAX_CODE));
            phase.in_bounds(usize::from(u8::MAX), Some(0));
        }
        assert!(phases <= 255);
        assert!(!entry.is_runnable() || phases > 0);
    }
}

proptest! {
    #![proptest_config(ProptestConfig { failure_persistence: None, ..ProptestConfig::with_cases(2_000) })]

    #[test]
    fn no_bytes_panic_the_reader(bytes in prop::collection::vec(any::<u8>(), 0..400)) {
        exhaust(&bytes);
    }

    #[test]
    fn nor_do_any_behind_a_right_crc(count in 0_u16..6, rest in prop::collection::vec(any::<u8>(), 0..400)) {
        exhaust(&sealed(count, &rest));
    }

    #[test]
    fn nor_does_a_blob_changed_behind_a_right_crc(changes in prop::collection::vec((0_usize..400, any::<u8>()), 1..6)) {
        let whole = two_entries();
        let mut rest = whole[12..whole.len() - 4].to_vec();
        let length = rest.len();
        for (at, byte) in changes {
            rest[at % length] = byte;
        }
        exhaust(&sealed(2, &rest));
    }
}
