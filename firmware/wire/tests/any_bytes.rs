//! Whatever comes over a line: nothing panics, and what goes in comes out.

use dipsift_wire::*;
use proptest::prelude::*;

fn window() -> impl Strategy<Value = Request> {
    let code = prop::collection::vec(any::<u8>(), 0..=MAX_CODE);
    (any::<u16>(), any::<u32>(), any::<bool>(), code).prop_map(|(sequence, index, last, code)| {
        let code = heapless::Vec::from_slice(&code).unwrap();
        Request { sequence, ask: Ask::Window(Window { index, last, code }) }
    })
}

proptest! {
    #![proptest_config(ProptestConfig { failure_persistence: None, ..ProptestConfig::default() })]

    #[test]
    fn requests_come_through(first in window(), second in window()) {
        let mut accumulator = Accumulator::new();
        let mut buffer = [0; MAX_FRAME];
        for request in [first, second] {
            let frame = encode_request(&request, &mut buffer).unwrap();
            prop_assert_eq!(frame.iter().position(|&byte| byte == 0), Some(frame.len() - 1));
            let mut came = None;
            for &byte in frame {
                if let Some(message) = accumulator.push(byte) {
                    came = Some(decode_request(message.unwrap()).unwrap());
                }
            }
            prop_assert_eq!(came, Some(request));
        }
    }

    #[test]
    fn a_frame_after_any_noise_is_found(noise in prop::collection::vec(any::<u8>(), 0..6_000)) {
        let mut accumulator = Accumulator::new();
        for &byte in &noise {
            if let Some(Ok(message)) = accumulator.push(byte) {
                let _ = (decode_request(message), decode_reply(message));
            }
        }
        accumulator.push(0);
        let request = Request { sequence: 1, ask: Ask::Status };
        let mut buffer = [0; MAX_FRAME];
        let frame = encode_request(&request, &mut buffer).unwrap();
        let (end, rest) = frame.split_last().unwrap();
        for &byte in rest {
            prop_assert!(accumulator.push(byte).is_none());
        }
        let message = accumulator.push(*end).unwrap().unwrap();
        prop_assert_eq!(decode_request(message), Ok(request));
    }

    #[test]
    fn any_bytes_are_steps_or_malformed(code in prop::collection::vec(any::<u8>(), 0..200)) {
        let steps: Vec<_> = Steps::new(&code).collect();
        prop_assert!(steps.len() <= code.len());
        prop_assert!(steps.iter().rev().skip(1).all(Result::is_ok));
    }
}
