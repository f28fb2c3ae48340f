//! The log keeps what it acknowledged, whatever happens to the machine.

#![allow(
    clippy::unwrap_used,
    reason = "a test that has nothing to unwrap has failed"
)]

use proptest::prelude::{any, prop};
use proptest::{prop_assert, prop_assert_eq, proptest};
use quietrail_bench::log::{Draft, HEADER, Log, NotKept, Observed, Row, RowFault, Store, append};

/// A place that loses what was not made durable, and may fail at any call.
#[derive(Default)]
struct Memory {
    durable: Vec<u8>,
    written: Vec<u8>,
    calls: Vec<&'static str>,
    /// Bytes that still fit.
    room: Option<usize>,
    sync_fails: bool,
}

impl Store for Memory {
    type Error = &'static str;

    fn bytes(&mut self) -> Result<Vec<u8>, Self::Error> {
        let mut all = self.durable.clone();
        all.extend(&self.written);
        Ok(all)
    }

    fn append(&mut self, bytes: &[u8]) -> Result<(), Self::Error> {
        self.calls.push("append");
        let fits = self.room.unwrap_or(bytes.len()).min(bytes.len());
        self.written.extend(&bytes[..fits]);
        if fits < bytes.len() {
            Err("full")
        } else {
            Ok(())
        }
    }

    fn sync(&mut self) -> Result<(), Self::Error> {
        self.calls.push("sync");
        if self.sync_fails {
            return Err("not durable");
        }
        self.durable.append(&mut self.written);
        Ok(())
    }
}

fn draft(value: &str) -> Draft {
    Draft {
        time: "2026-11-25T18:00:00Z".to_owned(),
        step: "raw on a dummy load".to_owned(),
        state: "cold".to_owned(),
        of: "raw".to_owned(),
        what: "mean".to_owned(),
        value: value.to_owned(),
        unit: "V".to_owned(),
        instrument: "meter".to_owned(),
        range: "40 V ±(0.5 % + 1)".to_owned(),
        setup: "clips on C1's legs; band 10 Hz .. 100 kHz".to_owned(),
        mains_v: "231".to_owned(),
        note: "said \"warm\", read cold".to_owned(),
        ..Draft::default()
    }
}

fn read(store: &mut Memory) -> Log {
    Log::read(&String::from_utf8_lossy(&store.bytes().unwrap()))
}

fn rows(store: &mut Memory) -> Vec<Row> {
    read(store).rows
}

#[test]
fn a_row_is_acknowledged_only_once_it_is_durable() {
    let mut store = Memory::default();
    let row = append(&mut store, &draft("17.05")).unwrap();
    assert_eq!(store.calls, ["append", "sync"]);
    assert!(store.written.is_empty(), "all of it is durable");
    assert_eq!((row.row, row.value), (1, 17.05));
    assert_eq!(rows(&mut store), [row]);

    store.sync_fails = true;
    assert_eq!(
        append(&mut store, &draft("17.1")),
        Err(NotKept::Store("not durable"))
    );
    // The power goes: what was acknowledged is there, the other may or may not be.
    store.written.clear();
    assert_eq!(rows(&mut store).len(), 1);
}

#[test]
fn a_full_disk_loses_one_row_and_damages_none() {
    let mut store = Memory::default();
    append(&mut store, &draft("17.05")).unwrap();
    for room in 0..150 {
        store.room = Some(room);
        assert_eq!(
            append(&mut store, &draft("18")),
            Err(NotKept::Store("full"))
        );
        store.room = None;
        let kept = append(&mut store, &draft("17.2")).unwrap();
        let all = rows(&mut store);
        assert_eq!(all.last(), Some(&kept), "room for {room}");
        assert!(all.iter().all(|row| row.value != 18.0), "room for {room}");
    }
    let numbers: Vec<u64> = rows(&mut store).iter().map(|row| row.row).collect();
    assert!(
        numbers.windows(2).all(|pair| pair[0] < pair[1]),
        "{numbers:?}"
    );
}

#[test]
fn cut_at_every_byte_of_its_tail_only_what_was_not_acknowledged_is_lost() {
    let mut store = Memory::default();
    for value in ["17.05", "17.06", "17.07"] {
        append(&mut store, &draft(value)).unwrap();
    }
    let whole = store.durable.clone();
    let before_last = String::from_utf8(whole[..whole.len() - 2].to_vec())
        .unwrap()
        .rfind("\r\n")
        .unwrap()
        + 2;
    for cut in before_last..whole.len() {
        // A cut may fall inside a letter: what is left is read with that letter replaced.
        let text = String::from_utf8_lossy(&whole[..cut]);
        let log = Log::read(&text);
        assert_eq!(log.rows.len(), 2, "cut at {cut}");
        assert_eq!(
            log.damaged.len(),
            usize::from(cut > before_last),
            "cut at {cut}"
        );
        let mut after = Memory {
            durable: whole[..cut].to_vec(),
            ..Memory::default()
        };
        let next = append(&mut after, &draft("18")).unwrap();
        let log = read(&mut after);
        assert_eq!(
            log.rows.len(),
            3,
            "cut at {cut}: {:?}",
            String::from_utf8_lossy(&after.durable)
        );
        assert_eq!(log.row(next.row), Some(&next));
    }
}

#[test]
fn a_damaged_line_is_kept_reported_and_hides_no_other() {
    let mut store = Memory::default();
    append(&mut store, &draft("17.05")).unwrap();
    let good = String::from_utf8(store.durable.clone()).unwrap();
    for (line, fault) in [
        ("2,x,y", RowFault::Fields(3)),
        (
            "2,,,cold,raw,mien,17,V,meter,,,s,,,,,",
            RowFault::What("mien".into()),
        ),
        ("1,,,cold,raw,mean,17,V,meter,,,s,,,,,", RowFault::Twice(1)),
        (
            "2,,,cold,raw,mean,17,V,meter,,few,s,,,,,",
            RowFault::Number {
                field: "averages",
                found: "few".into(),
            },
        ),
        ("2,,,cold,raw,mean,\"17,V,meter,,,s,,,,,", RowFault::Quote),
        (
            "2,,,cold,raw,mean,17 ±1,V,meter,,,s,,,,,",
            RowFault::NotOne("17 ±1 V".into()),
        ),
    ] {
        let text = format!("{good}{line}\r\n3,,,cold,raw,mean,17.3,V,meter,,,s,,,,,\r\n");
        let log = Log::read(&text);
        assert_eq!(log.rows.len(), 2, "{line}");
        assert_eq!(log.rows[1].value, 17.3);
        assert_eq!(log.damaged.len(), 1, "{line}");
        assert_eq!((log.damaged[0].line, &log.damaged[0].fault), (3, &fault));
        assert_eq!(log.damaged[0].text, line);
    }
}

/// Found by the fuzzer: behind such a line no row could be added at all.
#[test]
fn a_damaged_line_with_the_last_number_there_is_takes_it_from_no_other() {
    for (damaged, number) in [
        ("999999999", 999_999_998),
        ("9999999999999999", 999_999_998),
    ] {
        let mut store = Memory {
            durable: format!("row,time\r\n{damaged}\r\n").into_bytes(),
            ..Memory::default()
        };
        let row = append(&mut store, &draft("17.05")).unwrap();
        assert_eq!(row.row, number);
        assert_eq!(rows(&mut store), [row]);
    }
}

/// Found by the fuzzer: the torn last line got its end, and with it closed what the row before it only seemed to leave open.
#[test]
fn an_end_given_to_a_torn_line_takes_no_row_along() {
    let mark_inside = "1,,,cold,pin\",mean,17,V,meter,,,s,,,,,\r\n2x,pin\",cold";
    let open_before_it =
        "1,,,cold,raw,mean,\"17\r\n\"2\",,,cold,raw,mean,17,V,meter,,,s,,,,,\r\n2x\"";
    for (torn, of) in [(mark_inside, "pin\""), (open_before_it, "raw")] {
        let mut store = Memory {
            durable: torn.as_bytes().to_vec(),
            ..Memory::default()
        };
        let before = rows(&mut store);
        assert_eq!(before.len(), 1, "{torn}");
        assert_eq!((before[0].of.as_str(), before[0].value), (of, 17.0));
        let row = append(&mut store, &draft("18")).unwrap();
        assert_eq!(rows(&mut store), [before[0].clone(), row], "{torn}");
    }
}

#[test]
fn corrections_are_new_rows_and_the_old_ones_stay() {
    let mut store = Memory::default();
    append(&mut store, &draft("1705")).unwrap();
    let mut correction = draft("17.05");
    correction.corrects = "1".to_owned();
    append(&mut store, &correction).unwrap();
    let log = read(&mut store);
    assert_eq!(log.rows.len(), 2);
    let standing: Vec<u64> = log.standing().iter().map(|row| row.row).collect();
    assert_eq!(standing, [2]);
    correction.corrects = "7".to_owned();
    assert_eq!(append(&mut store, &correction), Err(NotKept::NoSuchRow(7)));
}

/// Somebody corrects a reading, slips, and corrects it again by the number that it had on the sheet: the last one stands, alone.
#[test]
fn a_reading_that_was_corrected_twice_by_its_old_number_counts_once() {
    let line = |number: u64, value: &str, corrects: &str| {
        let draft = Draft {
            corrects: corrects.to_owned(),
            ..draft(value)
        };
        format!("{}\n", draft.line(number))
    };
    let standing = |rows: &[String]| -> Vec<u64> {
        let log = Log::read(&format!("{HEADER}\n{}", rows.concat()));
        log.standing().iter().map(|row| row.row).collect()
    };
    let own = line(1, "12.03", "");
    assert_eq!(
        standing(&[own.clone(), line(2, "12.30", "1"), line(3, "12.13", "1")]),
        [3]
    );
    // Also where the second went by the number of the correction, and a third by the first again.
    let chain = [
        own,
        line(2, "12.30", "1"),
        line(3, "12.13", "2"),
        line(4, "12.14", "1"),
        line(5, "12.2", ""),
    ];
    assert_eq!(standing(&chain), [4, 5]);
    // Of one that can no longer be read.
    let lost = [
        "1,torn\n".to_owned(),
        line(2, "12.30", "1"),
        line(3, "12.13", "1"),
    ];
    assert_eq!(standing(&lost), [3]);
}

#[test]
fn what_a_spreadsheet_makes_of_it_is_read() {
    let text = "\u{feff}row,time,step,state,of,what,value,unit,instrument,range,averages,setup,mains_v,limit,capture,corrects,note\n\
                1,t,s,warm,\"heater,pin\",ripple,\"1,5\",mV,scope,,64,\"shorted; through pre\",,,,,\"two\nlines\"\n\
                \n2,t,s,warm,heater,mean,12.1,V,meter,,,clips,230 V,,,,\n";
    let log = Log::read(text);
    assert!(log.damaged.is_empty(), "{:?}", log.damaged);
    let [ripple, mean] = log.rows.as_slice() else {
        panic!("{log:?}")
    };
    assert_eq!((ripple.value, ripple.note.as_str()), (1.5e-3, "two\nlines"));
    assert!(ripple.setup.is_shorted);
    assert_eq!(ripple.setup.through.as_deref(), Some("pre"));
    assert_eq!(mean.mains_v, Some(230.0));
    assert_eq!(
        mean.what,
        Observed::Statistic(quietrail_job::model::What::Mean)
    );
}

/// Where the comma marks decimals, spreadsheets put semicolons between fields, and some put tabs. A row so written counts, and one
/// whose end was torn off does not.
#[test]
fn rows_between_semicolons_count() {
    for separator in [";", "\t"] {
        let header = HEADER.replace(',', separator);
        let row = "1,t,s,warm,@heater,pin@,ripple,1.5,mV,scope,,64,shorted,231,,,,a note"
            .replace("@heater,pin@", "@")
            .replace(',', separator)
            .replace('@', "heater,pin");
        let text = format!("{header}\r\n{row}\r\n{row}");
        let log = Log::read(&text);
        let [read] = log.rows.as_slice() else {
            panic!("{log:?}")
        };
        assert_eq!((read.of.as_str(), read.value), ("heater,pin", 1.5e-3));
        let mut store = Memory {
            durable: text.replace("\r\n1", "\r\n2").into_bytes(),
            ..Memory::default()
        };
        let kept = append(&mut store, &draft("17")).unwrap();
        let all = rows(&mut store);
        assert_eq!(all.len(), 2, "{all:?}");
        assert_eq!(all[1], kept);
    }
}

proptest! {
    /// Whatever is typed into its texts, a row comes back as it was written.
    #[test]
    fn a_row_is_read_back_as_written(
        texts in prop::collection::vec(any::<String>(), 6),
        value in -1e6..1e6_f64,
    ) {
        let mut draft = draft(&value.to_string());
        draft.step = texts[0].clone();
        draft.of = texts[1].clone();
        draft.instrument = texts[2].clone();
        draft.setup = texts[3].clone();
        draft.capture = texts[4].clone();
        draft.note = texts[5].clone();
        let mut store = Memory::default();
        let kept = append(&mut store, &draft).map_err(|e| proptest::test_runner::TestCaseError::fail(format!("{e:?}")))?;
        let log = read(&mut store);
        prop_assert!(log.damaged.is_empty(), "{:?}", log.damaged);
        prop_assert_eq!(log.rows.len(), 1);
        prop_assert_eq!(&log.rows[0], &kept);
        prop_assert_eq!(kept.value, value);
    }

    /// No text brings the reader down, and all lines are accounted for.
    #[test]
    fn any_text_is_read(text in any::<String>()) {
        let log = Log::read(&text);
        prop_assert!(log.next_number() > 0);
        for row in log.standing() {
            prop_assert!(row.value.is_finite());
        }
    }
}

#[test]
fn a_word_behind_a_value_says_how_it_was_read() {
    use quietrail_bench::log::Observed;
    use quietrail_job::model::What;
    let p_p = Observed::Statistic(What::RipplePeakToPeak);
    let rms = Observed::Statistic(What::Ripple);
    for typed in ["15 mV p-p", "15 mVpp", "15 mV", "15 mV pk-pk"] {
        assert_eq!(p_p.without_word(typed), Ok("15 mV"), "{typed}");
    }
    assert_eq!(Observed::RmsVoltage.without_word("6.3 Vrms"), Ok("6.3 V"));
    assert_eq!(rms.without_word("15 mV p-p"), Err("p-p"));
    assert_eq!(p_p.without_word("15 mV rms"), Err("rms"));
    let mean = Observed::Statistic(What::Mean);
    assert_eq!(mean.without_word("12 V rms"), Err("rms"));
    assert_eq!(mean.without_word("12 V"), Ok("12 V"));
}
