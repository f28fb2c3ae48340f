//! Interviews, from the answers typed to the job that they make.

use super::{Patience, closing, interview};
use quietrail_job::begin::{ALL, REGION, Region, TEMPLATE};
use quietrail_job::model::{Job, PartKind};
use quietrail_job::read;

fn region(text: &str) -> Region {
    Region::parse(text).expect("a region")
}

/// The text that answers make, and what was shown while they were asked.
fn asked(at: &str, typed: &str, patience: Patience) -> (Result<String, String>, String) {
    let mut shown = Vec::new();
    let answers = interview(region(at), &mut typed.as_bytes(), &mut shown, patience);
    let text = answers.map(|answers| answers.fill(TEMPLATE));
    (text, String::from_utf8(shown).expect("text"))
}

#[track_caller]
fn job(text: &str) -> Job {
    let reading = read(text, None);
    assert_eq!(reading.diagnostics, [], "{text}");
    reading.job.expect("without diagnostics there is a job")
}

#[test]
fn every_blank_of_the_template_has_its_question_and_the_other_way_round() {
    let mut blanks: Vec<&str> = TEMPLATE
        .split("{{")
        .skip(1)
        .filter_map(|rest| Some(rest.split_once("}}")?.0))
        .collect();
    blanks.sort_unstable();
    blanks.dedup();
    let mut names: Vec<&str> = ALL.iter().map(|question| question.name).collect();
    names.sort_unstable();
    assert_eq!(blanks, names);
}

#[test]
fn defaults_read_cleanly_in_each_region() {
    for at in [REGION, "120 V 60 Hz", "100 V 50 Hz", "240 V 50 Hz"] {
        let (text, _) = asked(at, "", Patience::GiveUp);
        let job = job(&text.expect("defaults are answers"));
        assert_eq!(job.region.name, at);
        assert_eq!(job.mains.voltage.nominal(), job.region.volts);
        assert_eq!(job.mains.frequency.nominal(), job.region.hertz);
    }
}

#[test]
fn answers_reach_the_job_and_the_end_of_input_takes_the_rest() {
    let typed = "Clock \"A\\B\"\n\n\n\n\n\n\n\n6800u ±10 %\n9 V\n";
    let (text, shown) = asked(REGION, typed, Patience::GiveUp);
    let job = job(&text.expect("answers"));
    assert_eq!(job.title, "Clock \"A\\B\"");
    let PartKind::Capacitor(reservoir) = &job.part("C1").expect("C1").kind else {
        panic!("C1 is a capacitor");
    };
    assert_eq!(reservoir.value.value.high, 7480e-6);
    // The window follows the output unless it is answered.
    assert_eq!(job.limits[0].min, Some(8.55));
    assert_eq!(job.limits[1].max, Some(9.45));
    assert!(
        shown.contains("Reservoir capacitor [4700 µF ±20 %]: "),
        "{shown}"
    );
}

/// Whoever lives on 120 V answers so, and is asked for nothing that follows from 230 V.
#[test]
fn the_region_that_is_answered_gives_the_defaults_behind_it() {
    let (text, shown) = asked(REGION, "Clock\n120 V 60 Hz\n", Patience::GiveUp);
    let job = job(&text.expect("answers"));
    assert_eq!(job.mains.voltage.nominal(), 120.0);
    assert_eq!(job.mains.frequency.nominal(), 60.0);
    assert!(
        shown.contains("Mains of the region [230 V 50 Hz]: "),
        "{shown}"
    );
    let (text, _) = asked(REGION, "Clock\n\n120 V\n", Patience::GiveUp);
    let wrong = text.expect_err("the region has 230 V");
    assert!(
        wrong.contains("the region of the job 230 V 50 Hz"),
        "{wrong}"
    );
}

#[test]
fn somebody_at_a_terminal_is_asked_again() {
    let (text, shown) = asked(REGION, "\n\n450 mA\n\n", Patience::AskAgain);
    let job = job(&text.expect("the second answer is a default"));
    assert_eq!(job.mains.voltage.nominal(), 230.0);
    let question = "Lowest and highest mains voltage at the socket [230 V -10/+6 %]: ";
    assert_eq!(shown.matches(question).count(), 2, "{shown}");
    assert!(
        shown.contains("read 450 mA, a current; a voltage is wanted"),
        "{shown}"
    );
}

#[test]
fn a_script_with_a_wrong_answer_ends_and_says_which() {
    let (text, _) = asked(REGION, "\n\n450 mA\n\n", Patience::GiveUp);
    let wrong = text.expect_err("a current is no voltage");
    assert!(
        wrong.starts_with("Lowest and highest mains voltage at the socket: read 450 mA, a current"),
        "{wrong}"
    );
}

#[test]
fn what_a_job_cannot_hold_is_refused_at_once() {
    for (typed, about) in [
        ("\n\n\n\n-45 Ω\n", "primary, cold"),
        ("\n\n\n\n\n\n\n\n0 µF\n", "Reservoir"),
        (
            "\n\n\n\n\n\n\n\n\n12 V ±1 %\n",
            "Voltage that the load wants",
        ),
    ] {
        let (text, _) = asked(REGION, typed, Patience::GiveUp);
        let wrong = text.expect_err(typed);
        assert!(wrong.contains(about), "{wrong}");
    }
}

#[test]
fn regions_are_read_or_refused() {
    assert_eq!(region("120 V  60 Hz").to_string(), "120 V 60 Hz");
    for wrong in [
        "",
        "230 V",
        "12 V 50 Hz",
        "230 V 400 Hz",
        "230 A 50 Hz",
        "fifty",
    ] {
        assert!(Region::parse(wrong).is_err(), "{wrong}");
    }
}

#[test]
fn what_nobody_saw_is_told() {
    // The first question is answered, the second seen and left; then the input ends.
    let typed = "Clock\n\n";
    let mut output = std::io::sink();
    let answers = interview(
        region(REGION),
        &mut typed.as_bytes(),
        &mut output,
        Patience::GiveUp,
    );
    let told = closing(&answers.expect("answers"), "x/job.toml", "x");
    for question in ALL {
        // The third met the end of the input: nobody answered it.
        let is_seen = ["title", "region"].contains(&question.name);
        assert_eq!(
            told.contains(&format!("  {}: ", question.asks)),
            !is_seen,
            "{told}"
        );
    }
    assert!(told.contains("quietrail prove x"), "{told}");
}
