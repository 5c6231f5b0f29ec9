//! Blobs made by hand after the table in `dipsift_stored::layout`.

use dipsift_wire::{Ask, Header, MAX_CODE, MarchSetup, Request, Step, push_step};

/// A phase: after passing, failing, a trip, a trip at power-up; voltages; program.
pub struct Made {
    pub next: [u8; 4],
    pub voltages: Vec<(u16, u16)>,
    pub header: Header,
    pub windows: Vec<Vec<Step>>,
    /// The march, in place of windows.
    pub march: Option<MarchSetup>,
}

impl Made {
    /// The code of each window; of a march, the message that sets it up.
    fn codes(&self) -> Vec<Vec<u8>> {
        let message = self.march.iter().map(|setup| {
            let request = Request { sequence: 0, ask: Ask::March(setup.clone()) };
            postcard::to_slice(&request, &mut [0; MAX_CODE]).unwrap().to_vec()
        });
        self.windows.iter().map(|steps| code(steps)).chain(message).collect()
    }
}

/// CRC-32 bit by bit, reflected polynomial EDB88320 (IEEE 802.3, 3.2.9).
fn crc32(bytes: &[u8]) -> u32 {
    let step = |crc: u32, _| if crc & 1 == 1 { crc >> 1 ^ 0xedb8_8320 } else { crc >> 1 };
    !bytes.iter().fold(!0, |crc, &byte| (0..8).fold(crc ^ u32::from(byte), step))
}

fn code(steps: &[Step]) -> Vec<u8> {
    let mut code = heapless::Vec::<u8, MAX_CODE>::new();
    steps.iter().for_each(|step| push_step(step, &mut code).unwrap());
    code.to_vec()
}

/// An entry's body, with its windows' code behind it; `at` is where it will lie.
fn body(at: usize, phases: &[Made]) -> (usize, Vec<u8>) {
    let headers: Vec<Vec<u8>> = phases
        .iter()
        .map(|phase| postcard::to_slice(&phase.header, &mut [0; 64]).unwrap().to_vec())
        .collect();
    let length: usize = 2 + phases
        .iter()
        .zip(&headers)
        .map(|(phase, header)| {
            16 + 4 * phase.voltages.len() + header.len() + 6 * phase.codes().len()
        })
        .sum::<usize>();
    let (mut body, mut pool) = (vec![0, phases.len() as u8], Vec::new());
    for (phase, header) in phases.iter().zip(headers) {
        body.extend(phase.next);
        body.extend([0; 8]);
        body.push(phase.voltages.len() as u8);
        for (least, most) in &phase.voltages {
            body.extend(least.to_le_bytes());
            body.extend(most.to_le_bytes());
        }
        body.push(header.len() as u8);
        body.extend(header);
        let codes = phase.codes();
        body.extend((codes.len() as u16).to_le_bytes());
        for window in codes {
            body.extend(((at + length + pool.len()) as u32).to_le_bytes());
            body.extend((window.len() as u16).to_le_bytes());
            pool.extend(window);
        }
    }
    assert_eq!(body.len(), length);
    body.extend(pool);
    (length, body)
}

/// A blob of entries: name, kind, phases. It lasts as long as the tests.
pub fn blob(entries: &[(&str, u8, Vec<Made>)]) -> &'static [u8] {
    let (mut directory, mut bodies) = (Vec::new(), Vec::new());
    for (name, kind, phases) in entries {
        let at = 12 + 28 * entries.len() + bodies.len();
        let (length, body) = body(at, phases);
        let mut padded = [0; 16];
        padded[..name.len()].copy_from_slice(name.as_bytes());
        directory.extend(padded);
        let pins = phases.first().map_or(14, |phase| phase.header.pins);
        directory.extend([*kind, pins, 0, 0]);
        directory.extend((at as u32).to_le_bytes());
        directory.extend((length as u32).to_le_bytes());
        bodies.extend(body);
    }
    let mut bytes = b"dsst\x01\0".to_vec();
    bytes.extend((entries.len() as u16).to_le_bytes());
    bytes.extend(((12 + directory.len() + bodies.len() + 4) as u32).to_le_bytes());
    bytes.extend(directory);
    bytes.extend(bodies);
    bytes.extend(crc32(&bytes).to_le_bytes());
    bytes.leak()
}
