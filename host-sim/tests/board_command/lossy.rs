//! A line that loses, tears, damages, repeats and reorders frames, both ways.

use rand::{RngExt, SeedableRng};
use rand_pcg::Pcg64Mcg;
use std::collections::VecDeque;
use std::io::{self, Read, Write};
use std::sync::{Arc, Mutex};

/// What was done to frames.
#[derive(Clone, Copy, Debug, Default)]
pub struct Done {
    pub passed: u32,
    pub lost: u32,
    pub torn: u32,
    pub damaged: u32,
    pub repeated: u32,
    pub held: u32,
}

/// One direction.
#[derive(Default)]
struct Way {
    /// A frame that has not come to its end.
    partial: Vec<u8>,
    /// A frame that comes behind so many others.
    held: Option<(Vec<u8>, u32)>,
    done: Done,
}

impl Way {
    /// Takes bytes in, gives what arrives of them.
    fn pass(&mut self, bytes: &[u8], chance: &mut Pcg64Mcg) -> Vec<u8> {
        let mut arrives = Vec::new();
        for byte in bytes {
            self.partial.push(*byte);
            if *byte == 0 {
                let frame = std::mem::take(&mut self.partial);
                self.frame(frame, chance, &mut arrives);
            }
        }
        arrives
    }

    fn frame(&mut self, mut frame: Vec<u8>, chance: &mut Pcg64Mcg, arrives: &mut Vec<u8>) {
        if frame.len() < 2 {
            arrives.extend(frame);
            return;
        }
        let place = chance.random_range(0..frame.len() - 1);
        match chance.random_range(0..100u32) {
            0..3 => self.done.lost += 1,
            3..6 => {
                // Its end is missing: it runs into the next one.
                self.done.torn += 1;
                frame.truncate(place);
                arrives.extend(frame);
            }
            6..9 => {
                self.done.damaged += 1;
                if let Some(byte) = frame.get_mut(place) {
                    *byte ^= 1 << chance.random_range(0..8u32);
                }
                arrives.extend(frame);
            }
            9..12 => {
                self.done.repeated += 1;
                arrives.extend(frame.repeat(2));
            }
            12..15 if self.held.is_none() => {
                self.done.held += 1;
                self.held = Some((frame, chance.random_range(1..4)));
                return;
            }
            _ => {
                self.done.passed += 1;
                arrives.extend(frame);
            }
        }
        match self.held.take() {
            Some((held, 1)) => arrives.extend(held),
            held => self.held = held.map(|(frame, behind)| (frame, behind - 1)),
        }
    }
}

/// A line with faults in both directions.
pub struct Lossy<L> {
    line: L,
    chance: Pcg64Mcg,
    to_board: Way,
    from_board: Way,
    arrived: VecDeque<u8>,
    told: Arc<Mutex<[Done; 2]>>,
}

impl<L> Lossy<L> {
    /// The line, and what is done on it: to the board, from the board.
    pub fn new(line: L, seed: u64) -> (Self, Arc<Mutex<[Done; 2]>>) {
        let told = Arc::new(Mutex::new([Done::default(); 2]));
        let lossy = Self {
            line,
            chance: Pcg64Mcg::seed_from_u64(seed),
            to_board: Way::default(),
            from_board: Way::default(),
            arrived: VecDeque::new(),
            told: Arc::clone(&told),
        };
        (lossy, told)
    }

    fn tell(&self) {
        if let Ok(mut told) = self.told.lock() {
            *told = [self.to_board.done, self.from_board.done];
        }
    }
}

impl<L: Read> Read for Lossy<L> {
    fn read(&mut self, room: &mut [u8]) -> io::Result<usize> {
        if self.arrived.is_empty() {
            let mut raw = [0; 512];
            let count = self.line.read(&mut raw)?;
            let arrives = self
                .to_board
                .pass(raw.get(..count).unwrap_or_default(), &mut self.chance);
            self.arrived.extend(arrives);
            self.tell();
        }
        self.arrived.read(room)
    }
}

impl<L: Write> Write for Lossy<L> {
    fn write(&mut self, bytes: &[u8]) -> io::Result<usize> {
        let arrives = self.from_board.pass(bytes, &mut self.chance);
        self.tell();
        self.line.write_all(&arrives)?;
        Ok(bytes.len())
    }

    fn flush(&mut self) -> io::Result<()> {
        self.line.flush()
    }
}
