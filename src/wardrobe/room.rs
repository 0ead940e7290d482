//! Memory, given out to pictures by what each needs, so that large ones wait for each other and small ones do not.

use crate::shot::Glance;
use std::sync::{Condvar, Mutex, PoisonError};

const MB: u64 = 1_000_000;
/// What a tracing takes whatever the size of its picture: program, sheet, outlines, evidence picture, and the level at which the cloth is
/// sought, which a small picture of fine squares is itself.
const EACH: u64 = 140 * MB;
/// Bytes for each pixel: three of colour, one of light with its coarser levels, what is decoded along the way (measured: DEVELOPERS.md).
const A_PIXEL: u64 = 6;
/// Pixels of a picture whose size only decoding tells.
const UNKNOWN: u64 = 24_000_000;
/// Share of the free memory that a run takes when nobody says, in percent.
const SHARE: u64 = 70;

/// Memory that tracing a picture takes at its most, bytes.
pub fn need(glance: &Glance) -> u64 {
    let pixels = glance.size.map_or(UNKNOWN, |[w, h]| w as u64 * h as u64);
    // Sixteen bits, alpha and inks are decoded beside the pixels that are kept.
    let beside = glance.samples.saturating_sub(3 * pixels);
    EACH + A_PIXEL * pixels + beside + glance.bytes
}

/// Memory for a run when nobody says: most of what the system has free, within what it allows this process; `None` where it doesn't say.
pub fn usable() -> Option<u64> {
    let read = |path: &str| std::fs::read_to_string(path).ok();
    let number = |path: &str| read(path)?.trim().parse::<u64>().ok();
    let free = read("/proc/meminfo").as_deref().and_then(available);
    let group = number("/sys/fs/cgroup/memory.max").map(|most| most.saturating_sub(number("/sys/fs/cgroup/memory.current").unwrap_or(0)));
    free.into_iter().chain(group).min().map(|bytes| bytes / 100 * SHARE)
}

/// `MemAvailable` of Linux's `/proc/meminfo`, bytes.
fn available(meminfo: &str) -> Option<u64> {
    let line = meminfo.lines().find_map(|l| l.strip_prefix("MemAvailable:"))?;
    line.trim().strip_suffix("kB")?.trim().parse::<u64>().ok().map(|kb| kb * 1024)
}

/// A stock of memory.
#[derive(Debug)]
pub struct Room {
    /// All of it, bytes.
    pub whole: u64,
    /// Bytes given out, and to how many.
    out: Mutex<(u64, usize)>,
    back: Condvar,
}

/// A part of it; given back when dropped.
#[derive(Debug)]
pub struct Part<'a> {
    room: &'a Room,
    bytes: u64,
}

impl Room {
    /// A stock of so many bytes.
    pub fn new(whole: u64) -> Self {
        Self { whole, out: Mutex::new((0, 0)), back: Condvar::new() }
    }

    /// Waits for a part. Who needs more than there is, or is to be `alone`, waits until all is back and has everything.
    pub fn take(&self, bytes: u64, alone: bool) -> Part<'_> {
        let bytes = if alone { self.whole } else { bytes.min(self.whole) };
        let mut out = self.out.lock().unwrap_or_else(PoisonError::into_inner);
        while out.1 > 0 && (out.0 + bytes > self.whole) {
            out = self.back.wait(out).unwrap_or_else(PoisonError::into_inner);
        }
        *out = (out.0 + bytes, out.1 + 1);
        Part { room: self, bytes }
    }
}

impl Drop for Part<'_> {
    fn drop(&mut self) {
        let mut out = self.room.out.lock().unwrap_or_else(PoisonError::into_inner);
        *out = (out.0 - self.bytes, out.1 - 1);
        self.room.back.notify_all();
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use std::sync::atomic::{AtomicU64, Ordering};

    #[test]
    fn never_more_than_there_is_is_out_and_everybody_gets_some() {
        let (room, out, most) = (Room::new(100), AtomicU64::new(0), AtomicU64::new(0));
        std::thread::scope(|s| {
            for k in 0..8 {
                let (room, out, most) = (&room, &out, &most);
                s.spawn(move || {
                    for n in 0..50_u64 {
                        let bytes = (17 * n + 31 * k) % 130;
                        let part = room.take(bytes, n % 10 == 9);
                        let now = out.fetch_add(part.bytes, Ordering::SeqCst) + part.bytes;
                        most.fetch_max(now, Ordering::SeqCst);
                        out.fetch_sub(part.bytes, Ordering::SeqCst);
                    }
                });
            }
        });
        assert!(most.load(Ordering::SeqCst) <= 100);
    }

    #[test]
    fn what_the_system_says_is_free() {
        assert_eq!(available("MemTotal: 100 kB\nMemAvailable:    2048 kB\n"), Some(2048 * 1024));
        assert_eq!(available("MemTotal: 100 kB\n"), None);
    }
}
