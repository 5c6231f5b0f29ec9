//! The serial line to the emulated board as the host's transport, in the board's own time.

use crate::Machine;
use dipsift_link::Transport;
use dipsift_wire::SERIAL_BAUD;
use std::io;
use std::time::Duration;

/// A byte on the line: ten bits.
const BYTE_NS: u64 = 10 * 1_000_000_000 / SERIAL_BAUD as u64;

/// A line to an emulated board. Time passes only in [`Transport::receive`].
pub struct Line {
    machine: Machine,
}

impl Line {
    /// A line to this board.
    pub fn new(machine: Machine) -> Self {
        Self { machine }
    }

    /// The board.
    pub fn machine(&self) -> &Machine {
        &self.machine
    }

    /// The board.
    pub fn machine_mut(&mut self) -> &mut Machine {
        &mut self.machine
    }

    /// When the last byte that was sent will have come in, in nanoseconds; 0 where all have.
    pub fn sent_by(&self) -> u64 {
        self.machine.board().serial.incoming.back().map_or(0, |&(due, _)| due)
    }

    /// Whether bytes are still on their way to the board.
    pub fn is_sending(&self) -> bool {
        !self.machine.board().serial.incoming.is_empty()
    }

    /// The bytes that have arrived from the board.
    pub fn arrived(&mut self) -> Vec<u8> {
        let now = self.machine.nanoseconds();
        let outgoing = &mut self.machine.board_mut().serial.outgoing;
        let mut bytes = Vec::new();
        while let Some(&(due, byte)) = outgoing.front()
            && due <= now
        {
            outgoing.pop_front();
            bytes.push(byte);
        }
        bytes
    }
}

impl Transport for Line {
    fn send(&mut self, bytes: &[u8]) -> io::Result<()> {
        let now = self.machine.nanoseconds();
        let board = self.machine.board_mut();
        let incoming = &mut board.serial.incoming;
        let mut due = incoming.back().map_or(now, |&(due, _)| due.max(now));
        for &byte in bytes {
            due += BYTE_NS;
            incoming.push_back((due, byte));
        }
        board.next_event = board.cycles;
        Ok(())
    }

    fn receive(&mut self, bytes: &mut [u8], wait: Duration) -> io::Result<usize> {
        let wait = u64::try_from(wait.as_nanos()).unwrap_or(u64::MAX);
        let until = self.machine.nanoseconds().saturating_add(wait);
        self.machine.run_for_output(until).map_err(io::Error::other)?;
        let now = self.machine.nanoseconds();
        let outgoing = &mut self.machine.board_mut().serial.outgoing;
        let mut count = 0;
        while count < bytes.len()
            && let Some(&(due, byte)) = outgoing.front()
            && due <= now
        {
            outgoing.pop_front();
            bytes[count] = byte;
            count += 1;
        }
        Ok(count)
    }

    fn discard(&mut self) -> io::Result<()> {
        let now = self.machine.nanoseconds();
        self.machine.board_mut().serial.outgoing.retain(|&(due, _)| due > now);
        Ok(())
    }

    fn now(&mut self) -> Duration {
        Duration::from_nanos(self.machine.nanoseconds())
    }
}
