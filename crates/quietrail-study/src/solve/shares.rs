//! What bands and ratings make of a steady state's figures: shares of a signal's rms; or seconds, of what is integrated.

use super::{Cycled, Plan};
use crate::question::Ask;
use crate::spectrum::Spectrum;
use quietrail_engine::{Output, Signal};

/// What a band or a rating keeps of a signal's rms; or seconds, of what is integrated.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Share {
    /// At the mains' own frequency.
    pub here: f64,
    /// How it moves with that, per hertz, the harmonics being what they are.
    per_hertz: f64,
}

impl Share {
    /// With mains so many hertz faster.
    pub fn at(self, faster: f64) -> f64 {
        self.here + self.per_hertz * faster
    }

    pub(super) fn fixed(here: f64) -> Self {
        Self {
            here,
            per_hertz: 0.0,
        }
    }
}

/// By how much mains are faster and slower where it is asked how a share moves with them, as a share of their frequency.
const FASTER: f64 = 1e-3;

/// Where the harmonics of signals are read.
pub(super) enum Spectra<'a> {
    /// In traces, in the order of [`Plan::traced`].
    Traced(&'a [Vec<f64>]),
    /// In the orbit itself.
    Orbit(&'a quietrail_engine::Orbit<'a>),
}

/// What bands and ratings keep of their signals' rms; of what is integrated, nothing yet.
pub(super) fn shares(plan: &Plan, cycled: Cycled<'_>, spectra: &Spectra<'_>) -> Vec<Share> {
    let Cycled {
        lowered, values, ..
    } = cycled;
    let frequency = lowered.job.mains.frequency.nominal();
    let mut traces = 0..;
    plan.questions
        .iter()
        .map(|question| {
            let both;
            let (signal, kept): (_, &dyn Fn(&Spectrum) -> f64) = match &question.ask {
                Ask::InBand(signal, band) => (signal, &|spectrum| spectrum.in_band(band)),
                Ask::RippleAndNoise((plus, minus), band) => {
                    both = Signal::Voltage(*plus, *minus);
                    (&both, &|spectrum| spectrum.in_band(band))
                }
                Ask::Equivalent(signal, rating) => {
                    (signal, &|spectrum| spectrum.equivalent(rating))
                }
                _ => return Share::fixed(1.0),
            };
            let trace = traces.next().expect("unending");
            let total = plan
                .table
                .with(values)
                .get(&Output::RippleRms(signal.clone()));
            if total <= 0.0 {
                return Share::fixed(1.0);
            }
            let spectrum = match spectra {
                Spectra::Traced(all) => Spectrum::of_samples(&all[trace], total, frequency),
                Spectra::Orbit(orbit) => {
                    Spectrum::of(orbit, &signal.probe(orbit.system()), frequency)
                }
            };
            let aside = FASTER * frequency;
            let at = |by: f64| kept(&spectrum.at_mains(frequency + by)) / total;
            Share {
                here: kept(&spectrum) / total,
                per_hertz: (at(aside) - at(-aside)) / (2.0 * aside),
            }
        })
        .collect()
}
