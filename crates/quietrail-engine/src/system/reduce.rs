//! Elimination of all linear rows that store nothing, once per circuit.

use super::{Few, Probe, System};
use smallvec::smallvec;

/// Pivots below this share of the largest entry of their row are not taken for the sake of few entries.
const THIN_PIVOT: f64 = 0.1;
/// Pivots smaller than this share of the largest entry of their row are not taken.
const SMALLEST_PIVOT: f64 = 1e-9;

impl System {
    /// The same equations with the linear rows that store nothing solved for one unknown each.
    ///
    /// What remains is about one unknown per store and one per nonlinear device. Rows that turn out to be
    /// empty (a loop of ideal sources, say) are kept, so that the solver meets and names them.
    #[must_use]
    pub fn reduced(&self) -> System {
        let (rebased, is_store) = self.rebased();
        let mut elimination = Elimination::new(&rebased, is_store);
        elimination.run(&rebased);
        elimination.build(rebased)
    }

    /// The same equations with only those linear rows solved that cost the others no entries: fewer unknowns, and
    /// every row still about its own neighbourhood. For elimination that knows where entries are.
    #[must_use]
    pub(crate) fn thinned(&self) -> System {
        let (rebased, is_store) = self.rebased();
        let mut elimination = Elimination::new(&rebased, is_store);
        elimination.thin(&rebased);
        elimination.build(rebased)
    }

    /// The reduction of another, like system repeated on this one: the same unknowns remain, in the same
    /// order, so that solutions and derivatives of both can be compared.
    #[must_use]
    pub fn reduced_as(&self, other: &System) -> System {
        let (rebased, is_store) = self.rebased();
        rebased.reduced_by(is_store, other)
    }

    /// Two reductions at once, each like that of another system.
    pub(crate) fn both_reduced_as(&self, others: (&System, &System)) -> (System, System) {
        let (rebased, is_store) = self.rebased();
        let first = rebased.clone().reduced_by(is_store.clone(), others.0);
        (first, rebased.reduced_by(is_store, others.1))
    }

    fn reduced_by(self, is_store: Vec<bool>, other: &System) -> System {
        let mut elimination = Elimination::new(&self, is_store);
        for &(row, column) in &other.pivots {
            elimination.eliminate(row, column);
        }
        elimination.build(self)
    }
}

/// Rows `K x + S s` while unknowns are being eliminated.
struct Elimination {
    n: usize,
    sources: usize,
    /// Row-major, `n + sources` wide.
    table: Vec<f64>,
    /// The row that gives an unknown, for each unknown that is eliminated.
    given_by: Vec<Option<usize>>,
    used: Vec<bool>,
    /// Currents of devices. A blocking diode's is a billionth of those around it: computed as their
    /// difference it would be rounding noise, and the voltage that it tells with it.
    of_device: Vec<bool>,
    /// Unknowns that are what a store holds: kept where possible.
    is_store: Vec<bool>,
    /// Rows of devices, and numbers beyond the rows for stores, whose probes read an unknown.
    read_by: Vec<Vec<usize>>,
    pivots: Vec<(usize, usize)>,
}

impl Elimination {
    fn new(system: &System, is_store: Vec<bool>) -> Self {
        let (n, sources) = (system.n, system.sources.len());
        let width = n + sources;
        let mut table = vec![0.0; n * width];
        for row in 0..n {
            table[row * width..row * width + n]
                .copy_from_slice(&system.linear[row * n..(row + 1) * n]);
            table[row * width + n..(row + 1) * width]
                .copy_from_slice(&system.drive[row * sources..(row + 1) * sources]);
        }
        let mut of_device = vec![false; n];
        for device in &system.devices {
            of_device[device.row] = true;
        }
        Self {
            n,
            sources,
            table,
            given_by: vec![None; n],
            used: vec![false; n],
            of_device,
            is_store,
            read_by: read_by(system),
            pivots: Vec::new(),
        }
    }

    /// Rows without a store or a device.
    fn linear_rows(&self, system: &System) -> Vec<usize> {
        let mut is_kept = self.of_device.clone();
        for store in &system.stores {
            for &(row, _) in &store.charge {
                is_kept[row] = true;
            }
        }
        (0..self.n).filter(|&row| !is_kept[row]).collect()
    }

    fn run(&mut self, system: &System) {
        // Rows with the fewest entries first: least fill.
        let mut waiting = self.linear_rows(system);
        while !waiting.is_empty() {
            let (position, _) = waiting
                .iter()
                .enumerate()
                .min_by_key(|&(_, &row)| self.entries(row))
                .expect("not empty");
            let row = waiting.remove(position);
            if let Some(column) = self.pivot(row) {
                self.eliminate(row, column);
            }
        }
    }

    /// Takes out pivots as long as that leaves no more entries than there were.
    fn thin(&mut self, system: &System) {
        let mut waiting = self.linear_rows(system);
        loop {
            let cheapest = waiting
                .iter()
                .filter_map(|&row| self.thin_pivot(row))
                .min_by_key(|&(gain, row, _)| (gain, row));
            let Some((gain, row, column)) = cheapest else {
                return;
            };
            if gain > 0 {
                return;
            }
            waiting.retain(|&other| other != row);
            self.eliminate(row, column);
        }
    }

    /// The pivot of a row that adds fewest entries (less those taken out), its row and its column.
    fn thin_pivot(&self, row: usize) -> Option<(isize, usize, usize)> {
        let entries = &self.row(row)[..self.n];
        let own = |c: &usize| self.given_by[*c].is_none() && entries[*c].abs() > SMALLEST_PIVOT;
        let largest = (0..self.n)
            .filter(own)
            .fold(0.0, |m: f64, c| m.max(entries[c].abs()));
        let in_row = self.entries(row);
        (0..self.n)
            .filter(own)
            .filter(|&c| !self.of_device[c] && !self.is_store[c])
            .filter(|&c| entries[c].abs() >= THIN_PIVOT * largest)
            .map(|c| {
                let others = (0..self.n)
                    .filter(|&r| r != row && !self.used[r] && self.row(r)[c] != 0.0)
                    .chain(self.readers(c));
                let in_column = others.count();
                let fill = (in_row - 1) * in_column;
                (fill as isize - (in_row + in_column) as isize, row, c)
            })
            .min()
    }

    /// Stores and devices that an unknown is read by: what stands for it is read by them too.
    fn readers(&self, column: usize) -> impl Iterator<Item = usize> + '_ {
        self.read_by[column].iter().copied()
    }

    fn entries(&self, row: usize) -> usize {
        self.row(row)[..self.n]
            .iter()
            .filter(|v| **v != 0.0)
            .count()
    }

    fn row(&self, row: usize) -> &[f64] {
        let width = self.n + self.sources;
        &self.table[row * width..(row + 1) * width]
    }

    /// The largest entry of a row, those of devices and of stores last, or none when all are rounding noise.
    fn pivot(&self, row: usize) -> Option<usize> {
        let entries = &self.row(row)[..self.n];
        let largest = |of_device: bool, is_store: bool| {
            (0..self.n)
                .filter(|&c| self.given_by[c].is_none())
                .filter(|&c| self.of_device[c] == of_device && self.is_store[c] == is_store)
                .filter(|&c| entries[c].abs() > SMALLEST_PIVOT)
                .max_by(|&a, &b| entries[a].abs().total_cmp(&entries[b].abs()))
        };
        largest(false, false)
            .or_else(|| largest(true, false))
            .or_else(|| largest(false, true))
    }

    fn eliminate(&mut self, row: usize, column: usize) {
        let width = self.n + self.sources;
        self.pivots.push((row, column));
        self.given_by[column] = Some(row);
        self.used[row] = true;
        let inverse = 1.0 / self.table[row * width + column];
        for k in 0..width {
            self.table[row * width + k] *= inverse;
        }
        self.table[row * width + column] = 1.0;
        let pivot_row = self.row(row).to_vec();
        for other in 0..self.n {
            if other == row {
                continue;
            }
            let factor = self.table[other * width + column];
            if factor == 0.0 {
                continue;
            }
            let row = &mut self.table[other * width..(other + 1) * width];
            for (entry, pivot) in row.iter_mut().zip(&pivot_row) {
                let new = *entry - factor * pivot;
                // What cancels to the last bits is a structural zero, not a tiny conductance.
                let is_noise = new.abs() < 1e-14 * entry.abs();
                *entry = if is_noise { 0.0 } else { new };
            }
            self.table[other * width + column] = 0.0;
        }
    }

    fn build(self, mut reduced: System) -> System {
        let (n, sources) = (self.n, self.sources);
        let kept_columns: Vec<usize> = (0..n).filter(|&c| self.given_by[c].is_none()).collect();
        let kept_rows: Vec<usize> = (0..n).filter(|&r| !self.used[r]).collect();
        debug_assert_eq!(kept_columns.len(), kept_rows.len());
        let m = kept_rows.len();
        let places = |kept: &[usize]| {
            let mut places = vec![usize::MAX; n];
            for (place, &kept) in kept.iter().enumerate() {
                places[kept] = place;
            }
            places
        };
        let (row_places, column_places) = (places(&kept_rows), places(&kept_columns));

        // Every old unknown in terms of the kept ones and the sources.
        let old: Vec<Probe> = (0..n)
            .map(|column| match self.given_by[column] {
                None => Probe {
                    x: smallvec![(column_places[column], 1.0)],
                    ..Probe::default()
                },
                Some(row) => {
                    let entries = self.row(row);
                    let x = (0..m).map(|index| (index, -entries[kept_columns[index]]));
                    let s = (0..sources).map(|index| (index, -entries[n + index]));
                    Probe {
                        x: x.filter(|term| term.1 != 0.0).collect(),
                        s: s.filter(|term| term.1 != 0.0).collect(),
                        rate: Few::new(),
                    }
                }
            })
            .collect();
        let carry = |probe: &Probe| {
            let mut carried = Probe {
                x: Few::new(),
                s: probe.s.clone(),
                rate: probe.rate.clone(),
            };
            for &(unknown, factor) in &probe.x {
                carried.add(&old[unknown], factor);
            }
            carried
        };

        reduced.n = m;
        reduced.linear = vec![0.0; m * m];
        reduced.drive = vec![0.0; m * sources];
        for (r, &row) in kept_rows.iter().enumerate() {
            let entries = self.row(row);
            for (c, &column) in kept_columns.iter().enumerate() {
                reduced.linear[r * m + c] = entries[column];
            }
            reduced.drive[r * sources..(r + 1) * sources].copy_from_slice(&entries[n..]);
        }
        reduced.kinds = kept_columns.iter().map(|&c| reduced.kinds[c]).collect();
        reduced.places = kept_rows.iter().map(|&r| reduced.places[r]).collect();
        for store in &mut reduced.stores {
            for (row, _) in &mut store.charge {
                *row = row_places[*row];
            }
            store.value = carry(&store.value);
        }
        for device in &mut reduced.devices {
            device.row = row_places[device.row];
            for input in &mut device.inputs {
                *input = carry(input);
            }
        }
        reduced.unreduced = Some(match reduced.unreduced {
            Some(unreduced) => unreduced.iter().map(carry).collect(),
            None => old.clone(),
        });
        reduced.pivots = self.pivots;
        reduced
    }
}

/// Which devices' rows, and which stores (numbered beyond the rows), read each unknown.
fn read_by(system: &System) -> Vec<Vec<usize>> {
    let mut read_by = vec![Vec::new(); system.n];
    let of_devices = system
        .devices
        .iter()
        .flat_map(|device| device.inputs.iter().map(move |input| (device.row, input)));
    let of_stores = system
        .stores
        .iter()
        .enumerate()
        .map(|(k, store)| (system.n + k, &store.value));
    for (reader, probe) in of_devices.chain(of_stores) {
        for &(unknown, _) in &probe.x {
            let readers: &mut Vec<usize> = &mut read_by[unknown];
            if !readers.contains(&reader) {
                readers.push(reader);
            }
        }
    }
    read_by
}
