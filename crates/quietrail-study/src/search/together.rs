//! Corners that several questions ask for, put together into as few as will serve.
//!
//! Most figures tell nothing of most questions: a capacitor behind one regulator is all the same to the rail of another. A
//! corner at which one question is worst leaves such figures free, and they go where another question wants them.

use super::corner::{Corner, Position};

/// A corner that a question points to.
#[derive(Clone, Debug)]
pub(super) struct Pointed {
    /// Index of the question.
    pub(super) q: usize,
    /// Where every figure would stand.
    pub(super) corner: Corner,
    /// Which figures tell.
    pub(super) tells: Vec<bool>,
}

/// A corner that serves some questions.
#[derive(Clone, Debug)]
pub(super) struct Shared {
    pub(super) corner: Corner,
    /// Which of those that pointed it serves.
    pub(super) serves: Vec<usize>,
}

/// A corner of which only some figures are settled yet.
struct Open {
    settled: Vec<Option<Position>>,
    serves: Vec<usize>,
}

impl Open {
    fn takes(&self, pointed: &Pointed) -> bool {
        let wanted = pointed.corner.iter().zip(&pointed.tells);
        self.settled
            .iter()
            .zip(wanted)
            .all(|(settled, (place, tells))| {
                !tells || settled.is_none_or(|settled| settled == *place)
            })
    }

    fn take(&mut self, index: usize, pointed: &Pointed) {
        let wanted = pointed.corner.iter().zip(&pointed.tells);
        for (settled, (place, tells)) in self.settled.iter_mut().zip(wanted) {
            if *tells {
                *settled = Some(*place);
            }
        }
        self.serves.push(index);
    }
}

/// Puts corners together. What none of those that share a corner cares for stands where the first of them has it.
pub(super) fn together(pointed: &[Pointed]) -> Vec<Shared> {
    let mut open: Vec<Open> = Vec::new();
    for (index, one) in pointed.iter().enumerate() {
        let found = open.iter().position(|corner| corner.takes(one));
        let at = found.unwrap_or_else(|| {
            open.push(Open {
                settled: vec![None; one.corner.len()],
                serves: Vec::new(),
            });
            open.len() - 1
        });
        open[at].take(index, one);
    }
    open.into_iter()
        .map(|Open { settled, serves }| {
            let first = &pointed[serves[0]].corner;
            let place = |(settled, first): (Option<Position>, &Position)| settled.unwrap_or(*first);
            Shared {
                corner: settled.into_iter().zip(first).map(place).collect(),
                serves,
            }
        })
        .collect()
}

#[cfg(test)]
mod tests {
    use super::{Pointed, together};
    use crate::search::Position;

    const LOW: Position = Position::LOW;
    const HIGH: Position = Position::HIGH;

    fn pointed(q: usize, corner: [Position; 3], tells: [bool; 3]) -> Pointed {
        Pointed {
            q,
            corner: corner.to_vec(),
            tells: tells.to_vec(),
        }
    }

    #[test]
    fn what_tells_stands_as_asked_for_and_the_rest_is_shared() {
        let asked = [
            pointed(0, [LOW, HIGH, LOW], [true, false, false]),
            pointed(1, [HIGH, LOW, LOW], [false, true, false]),
            pointed(2, [HIGH, LOW, LOW], [true, false, true]),
        ];
        let shared = together(&asked);
        let corners: Vec<_> = shared.iter().map(|one| one.corner.as_slice()).collect();
        assert_eq!(corners, [&[LOW, LOW, LOW][..], &[HIGH, LOW, LOW]]);
        assert_eq!(shared[0].serves, [0, 1]);
        assert_eq!(shared[1].serves, [2]);
        for one in &shared {
            for &index in &one.serves {
                let own = &asked[index];
                for figure in (0..3).filter(|&figure| own.tells[figure]) {
                    assert_eq!(one.corner[figure], own.corner[figure]);
                }
            }
        }
    }
}
