//! Consistent overhead byte stuffing, in place.
//!
//! After Cheshire and Baker, IEEE/ACM Transactions on Networking 7 (1999) 159. Written out here
//! since no index may panic in a board's image; the tests compare it with another implementation.

/// The bytes that stuffing adds to `length` bytes at most, without the closing zero byte.
pub(crate) const fn overhead(length: usize) -> usize {
    1 + length / 254
}

/// Stuffs the bytes from `start` to `end` to the front of the buffer and closes them with a zero
/// byte. Yields how many bytes that makes; `None` where `start` leaves less room than the
/// [`overhead`].
pub(crate) fn stuff(buffer: &mut [u8], start: usize, end: usize) -> Option<usize> {
    if start < overhead(end.checked_sub(start)?) {
        return None;
    }
    let mut block = 0;
    let mut write = 1;
    for read in start..end {
        let byte = *buffer.get(read)?;
        if byte != 0 {
            *buffer.get_mut(write)? = byte;
            write += 1;
        }
        if byte == 0 || write - block == 0xff {
            *buffer.get_mut(block)? = (write - block) as u8;
            block = write;
            write += 1;
        }
    }
    *buffer.get_mut(block)? = (write - block) as u8;
    *buffer.get_mut(write)? = 0;
    Some(write + 1)
}

/// Undoes the stuffing of a frame without its closing zero byte. Yields how many bytes the
/// message has, at the front of the buffer; `None` where the bytes are no frame.
pub(crate) fn unstuff(frame: &mut [u8]) -> Option<usize> {
    let mut read = 0;
    let mut write = 0;
    while let Some(&code) = frame.get(read) {
        let end = read + usize::from(code);
        if code == 0 || end > frame.len() {
            return None;
        }
        read += 1;
        while read < end {
            *frame.get_mut(write)? = *frame.get(read)?;
            (read, write) = (read + 1, write + 1);
        }
        if code != 0xff && read < frame.len() {
            *frame.get_mut(write)? = 0;
            write += 1;
        }
    }
    Some(write)
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::collection::vec;
    use proptest::prelude::*;

    /// The examples of Cheshire and Baker, section III, and blocks around their longest.
    #[test]
    fn examples() {
        let mut buffer = [0; 64];
        let message = b"E\0\0\x2c\x4c\x79\0\0\x40\x06\x4f\x37";
        buffer[8..20].copy_from_slice(message);
        let stuffed = stuff(&mut buffer, 8, 20).unwrap();
        assert_eq!(buffer[..stuffed], *b"\x02\x45\x01\x04\x2c\x4c\x79\x01\x05\x40\x06\x4f\x37\0");
        assert_eq!(unstuff(&mut buffer[..stuffed - 1]), Some(12));
        assert_eq!(buffer[..12], *message);
    }

    #[test]
    fn no_room_is_no_frame() {
        assert_eq!(stuff(&mut [7; 4], 0, 3), None);
        assert_eq!(stuff(&mut [7; 4], 1, 4), None);
        assert_eq!(stuff(&mut [7; 5], 1, 4), Some(5));
        assert_eq!(stuff(&mut [7; 5], 4, 3), None);
        assert_eq!(stuff(&mut [7; 600], 2, 300), Some(301));
        assert_eq!(stuff(&mut [7; 600], 1, 300), None);
    }

    fn bytes() -> impl Strategy<Value = std::vec::Vec<u8>> {
        prop_oneof![
            vec(any::<u8>(), 0..1_800),
            vec(1_u8..=255, 0..1_800),
            vec(prop_oneof![20 => 1_u8..=255, 1 => Just(0)], 0..1_800),
            (250_usize..260, any::<bool>()).prop_map(|(count, zero)| {
                let mut bytes = std::vec![1; count];
                bytes.extend(zero.then_some(0));
                bytes
            }),
        ]
    }

    proptest! {
        #![proptest_config(ProptestConfig { failure_persistence: None, ..ProptestConfig::default() })]

        #[test]
        fn understands_another_implementation(message in bytes()) {
            let start = overhead(message.len());
            let mut buffer = std::vec![0; start];
            buffer.extend(&message);
            buffer.push(0);
            let end = buffer.len() - 1;
            let stuffed = stuff(&mut buffer, start, end).unwrap();
            prop_assert_eq!(buffer[stuffed - 1], 0);
            // Each understands the other; only a last block of 254 bytes may end in two ways.
            let mut ours = buffer[..stuffed - 1].to_vec();
            let length = cobs::decode_in_place(&mut ours).unwrap();
            prop_assert_eq!(&ours[..length], &message[..]);
            let mut theirs = std::vec![0; cobs::max_encoding_length(message.len()) + 1];
            let length = cobs::encode(&message, &mut theirs);
            prop_assert!(length == stuffed - 1 || length == stuffed - 2);
            let length = unstuff(&mut theirs[..length]).unwrap();
            prop_assert_eq!(&theirs[..length], &message[..]);
            let length = unstuff(&mut buffer[..stuffed - 1]).unwrap();
            prop_assert_eq!(&buffer[..length], &message[..]);
        }

        #[test]
        fn takes_what_another_implementation_takes(frame in vec(1_u8..=255, 1..600), short in any::<bool>()) {
            // Codes that are mostly small make frames that are mostly whole.
            let frame: std::vec::Vec<u8> =
                frame.iter().map(|byte| if short { byte % 3 + 1 } else { *byte }).collect();
            let (mut ours, mut theirs) = (frame.clone(), frame);
            let length = unstuff(&mut ours);
            prop_assert_eq!(length, cobs::decode_in_place(&mut theirs).ok());
            let length = length.unwrap_or(0);
            prop_assert_eq!(&ours[..length], &theirs[..length]);
        }
    }
}
