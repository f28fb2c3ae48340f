use quietrail_study::*;
fn main() {
    let text = std::fs::read_to_string(std::env::args().nth(1).unwrap()).unwrap();
    let r = quietrail_job::read(&text, None);
    let job = r.job.unwrap();
    let t = std::time::Instant::now();
    let l = lower::lower(
        &job,
        1,
        &lower::Step::default(),
        &[],
        &heat::Temperatures::at_rest(&job),
    )
    .unwrap();
    let full = quietrail_engine::System::assemble(&l.circuit).unwrap();
    let s = full.reduced();
    println!(
        "{} -> {} unknowns, {} stores {:?}",
        full.unknowns(),
        s.unknowns(),
        s.store_count(),
        t.elapsed()
    );
    for e in l.circuit.elements() {
        if let quietrail_engine::Element::Regulator { law, .. } = e {
            println!("{law:?}");
        }
    }
    let t = std::time::Instant::now();
    let o = quietrail_engine::steady_state(
        &s,
        &Options {
            steps: 200000,
            ..Default::default()
        },
    );
    println!("{:?} {:?} {:?}", o.ended, o.effort, t.elapsed());
    let z = o.orbit.as_ref().unwrap().start().to_vec();
    for tol in [3e-8, 1e-6, 1e-5] {
        let mut z2 = z.clone();
        for v in &mut z2 {
            *v *= 0.97;
        }
        let t = std::time::Instant::now();
        let o = quietrail_engine::steady_state_from(
            &s,
            &z2,
            &Options {
                tolerance: tol,
                ..Default::default()
            },
        );
        println!("warm {tol} {:?} {:?} {:?}", o.ended, o.effort, t.elapsed());
    }
    let plan = solve::Plan::of(&job).unwrap();
    let st = lower::Step::default();
    let op = Options {
        tolerance: 1e-6,
        ..Default::default()
    };
    let setting = solve::Setting {
        job: &job,
        state: 1,
        step: &st,
        options: &op,
    };
    let t = std::time::Instant::now();
    let nom = solve::solve(&plan, setting, &[], None).unwrap();
    println!(
        "nominal rounds {} {:?}  outputs {}",
        nom.solution.rounds,
        t.elapsed(),
        plan.table.outputs().len()
    );
    let t = std::time::Instant::now();
    for _ in 0..100 {
        lower::lower(&job, 1, &st, &[], &nom.solution.temperatures).unwrap();
    }
    println!("100 lowers {:?}", t.elapsed());
    let params = search::parameters(&job, 1);
    let t = std::time::Instant::now();
    let g = solve::gradients(&plan, setting, &[], &nom, &params).unwrap();
    println!("{} params, gradients {:?}", params.len(), t.elapsed());
    let t = std::time::Instant::now();
    let q = plan
        .questions
        .iter()
        .position(|q| q.name == std::env::args().nth(2).unwrap())
        .unwrap();
    let sign = if plan.questions[q].max.is_some() {
        1.0
    } else {
        -1.0
    };
    let corner: Vec<search::Position> = params
        .iter()
        .zip(&g[q])
        .map(|(p, s)| {
            let e = sign * s * (p.high - p.low);
            if e > 0.0 {
                search::Position::High
            } else if e < 0.0 {
                search::Position::Low
            } else {
                search::Position::Nominal
            }
        })
        .collect();
    let ch = search::changes_at(&params, &corner);
    let l = lower::lower(&job, 1, &st, &ch, &nom.solution.temperatures).unwrap();
    let s = solve::assemble(&l).unwrap();
    for tol in [1e-4, 1e-5, 1e-6, 3e-8] {
        {
            let quick = 0;
            let t = std::time::Instant::now();
            let o = quietrail_engine::steady_state_from(
                &s,
                &nom.solution.start,
                &Options {
                    tolerance: tol,
                    ..Default::default()
                },
            );
            println!(
                "corner {tol} {quick} {:?} {:?} {:?}",
                o.ended,
                o.effort,
                t.elapsed()
            );
        }
    }
}
