mod supplies;
use quietrail_engine::*;
use supplies::*;
const SILICON: DiodeLaw = DiodeLaw::Exponential { saturation: 5e-9, slope_voltage: 0.045, series: 0.03, leakage: 0.0 };
fn bench() -> Supply {
    Supply { form: Form::Bridge, frequency: 50.0, peak: 20.0, source_ohms: 0.5, leakage_henries: 0.0, diode: SILICON, farads: 4700e-6, esr: 0.03, feeds: Feeds::Amps(0.5) }
}
#[test]
fn leak() {
    let s = Supply { leakage_henries: 1e-3, source_ohms: 0.0, ..bench() };
    for reduce in [false, true] {
            let b = s.build();
            let mut system = System::assemble(&b.circuit).unwrap();
            if reduce { system = system.reduced(); }
            let rest = vec![0.0; system.store_count()];
            for cycles in 1..8 {
            match transient(&system, &rest, 0.0, f64::from(cycles), &Options { steps: 50_000, tolerance: 1e-4, ..Options::default() }) {
            Ok(run) => {
            let p = system.current(b.source);
            println!("reduced {reduce} {cycles} end i {} v {}", run.end(&p), run.end(&b.output(&system)));
            }
            Err(e) => println!("reduced {reduce} {cycles} {e:?}"),
            }
            }
    }
}
