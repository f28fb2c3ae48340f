//! One number for all figures of a storm, to the last bit.

use crate::solve::{Fate, Outcome};

/// The FNV-1a hash with 64 bits (RFC 9923) of how all states ended and of all their figures.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Digest(u64);

/// Offset basis: RFC 9923.
const BASIS: u64 = 0xcbf2_9ce4_8422_2325;
/// Prime: RFC 9923.
const PRIME: u64 = 0x0000_0100_0000_01b3;

impl Default for Digest {
    fn default() -> Self {
        Self(BASIS)
    }
}

impl Digest {
    /// Takes in the next job.
    pub fn add(&mut self, fate: &Fate) {
        match fate {
            Fate::Unread(_) => self.bytes(b"unread"),
            Fate::Solved(states) => {
                for state in states {
                    self.state(&state.outcome);
                }
            }
        }
    }

    fn state(&mut self, outcome: &Outcome) {
        match outcome {
            Outcome::Settled(settled) => {
                self.bytes(b"settled");
                for figure in &settled.figures {
                    self.bytes(&figure.to_bits().to_le_bytes());
                }
            }
            Outcome::RefusedRightly(refusal) => self.bytes(refusal.words().as_bytes()),
            Outcome::NotFound(_) => self.bytes(b"not found"),
            Outcome::Panicked(_) => self.bytes(b"panicked"),
        }
    }

    fn bytes(&mut self, bytes: &[u8]) {
        for byte in bytes {
            self.0 = (self.0 ^ u64::from(*byte)).wrapping_mul(PRIME);
        }
    }

    /// As sixteen digits.
    pub fn text(self) -> String {
        format!("{:016x}", self.0)
    }
}

#[cfg(test)]
mod tests {
    use super::Digest;

    /// Test vectors of RFC 9923.
    #[test]
    fn hashes_are_as_published() {
        let hash = |text: &str| {
            let mut digest = Digest::default();
            digest.bytes(text.as_bytes());
            digest.text()
        };
        assert_eq!(hash(""), "cbf29ce484222325");
        assert_eq!(hash("a"), "af63dc4c8601ec8c");
        assert_eq!(hash("foobar"), "85944171f73967e8");
    }
}
