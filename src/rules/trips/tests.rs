use super::*;
use crate::rules::journal::Account;
use crate::rules::trial::{
    any_shares, asked, balance, by_shares, cut_to_the_cent, day, dollars, findings, for_episode, given_to,
    holds_for_any, keeps_out_of_closed_days, ties, usd, write,
};

fn rate(text: &str) -> TripRate<'_> {
    TripRate {
        rate: text.parse().unwrap(),
        currency: usd(),
        per: DistanceUnit::Mile,
        source: "the year's notice",
    }
}

fn miles(distance: &str) -> NewTrip {
    NewTrip {
        date: day("2025-04-01"),
        distance: Quantity::parse(distance).unwrap(),
        unit: DistanceUnit::Mile,
        purpose: "lumber for the shelves".to_owned(),
        vehicle: "green van".to_owned(),
        from: None,
        to: None,
        objects: Vec::new(),
        party: None,
        note: None,
    }
}

fn recorded(rate: TripRate<'_>, new: &NewTrip) -> Result<Recording, Refusal> {
    let recording = write(|pen| travel(pen, Some(rate), VehicleYear::NoActualCosts, new))?;
    ties(&recording, &[]);
    Ok(recording)
}

// Standard mileage rates of 2023 to 2026, Notices 2024-08, 2025-05 and 2026-10: seen, in summaries of them.
#[test]
fn a_thousand_business_miles_at_the_standard_rate_of_each_year() {
    for (of_year, amount) in
        [("0.655", "655.00"), ("0.67", "670.00"), ("0.70", "700.00"), ("0.725", "725.00")]
    {
        let recording = recorded(rate(of_year), &miles("1000")).unwrap();
        assert_eq!(balance(&recording, Account::Expense(ExpenseClass::Vehicle)), amount);
        assert_eq!(balance(&recording, Account::OwnerContribution), format!("-{amount}"));
        assert_eq!(recording.sources[0].kind, SourceKind::Trip);
    }
}

// Derived: 100 km are 62.137119... miles; 43.4959... rounds once to 43.50.
#[test]
fn kilometres_are_converted_exactly_and_rounded_once() {
    let amount = |distance: &str, unit| {
        let distance = distance.parse().unwrap();
        at_standard_rate(distance, unit, rate("0.70")).unwrap()
    };
    assert_eq!(amount("1609.344", DistanceUnit::Kilometre), dollars("700.00"));
    assert_eq!(amount("100", DistanceUnit::Kilometre), dollars("43.50"));
    let by_kilometre = TripRate { per: DistanceUnit::Kilometre, ..rate("0.72") };
    let miles = at_standard_rate(Decimal::ONE_HUNDRED, DistanceUnit::Mile, by_kilometre).unwrap();
    assert_eq!(miles, dollars("115.87"));
}

// Common practice, no source: 31.5 miles at 0.70 are 22.05, an odd cent to the first.
#[test]
fn a_trip_for_two_episodes_is_shared_to_the_cent() {
    let trip = NewTrip { objects: vec![for_episode(1), for_episode(2)], ..miles("31.5") };
    let recording = recorded(rate("0.70"), &trip).unwrap();
    let parts: Vec<_> = recording.attributions.iter().map(|one| one.amount.to_string()).collect();
    assert_eq!(parts, ["11.03", "11.02"]);
    assert!(
        recording.attributions.iter().all(|one| one.label == Label::Category(Category::Trips)),
        "a trip is a cost of its own line"
    );
}

// Common practice, no source: whether a way is commuting is the person's to know.
#[test]
fn the_answer_says_that_commuting_is_not_deducted() {
    let notes = recorded(rate("0.70"), &miles("10")).unwrap().notes;
    assert!(notes.iter().any(|note| note.contains("commuting")));
    assert!(notes.iter().any(|note| note.contains("overhead")));
    assert!(notes[0].contains("the year's notice"));
}

// Pub. 463 ch. 4, from memory.
#[test]
fn the_standard_rate_is_refused_beside_actual_costs_of_the_same_vehicle_and_year() {
    let trip = miles("10");
    let beside = |year| findings(write(|pen| travel(pen, Some(rate("0.70")), year, &trip)));
    assert_eq!(
        beside(VehicleYear::ActualCostsRecorded),
        [
            "/vehicle: actual costs of 'green van' are recorded in 2025; the standard rate can not be taken beside \
          them in one year"
        ]
    );
    assert_eq!(
        beside(VehicleYear::KeptAsTool),
        [
            "/vehicle: 'green van' is kept as a tool, and its depreciation is an actual cost; the standard rate \
          can not be taken beside it"
        ]
    );
}

// Common practice, no source.
#[test]
fn a_trip_is_refused_where_the_profile_has_no_rate_for_the_books() {
    let with = |rate| findings(write(|pen| travel(pen, rate, VehicleYear::NoActualCosts, &miles("10"))));
    assert_eq!(with(None), ["/date: the books' tax profile has no standard rate for 2025"]);
    let pounds = TripRate { currency: Currency::find("GBP").unwrap(), ..rate("0.45") };
    assert_eq!(with(Some(pounds)), ["/date: the standard rate is in GBP, and the books are kept in USD"]);
}

// Common practice, no source.
#[test]
fn every_fault_of_a_trip_is_told_at_once() {
    let trip = NewTrip {
        date: day("2024-12-31"),
        purpose: " ".to_owned(),
        vehicle: String::new(),
        objects: vec![ObjectShare::default()],
        ..miles("0")
    };
    assert_eq!(
        findings(recorded(rate("0.70"), &trip)),
        [
            "/date: 2024-12-31 lies in a closed period; the first open day is 2025-01-01",
            "/purpose: the purpose is empty",
            "/vehicle: the vehicle is empty",
            "/distance: the distance is zero",
            "/for/0: neither an episode nor a project is named",
        ]
    );
}

// Pub. 463 ch. 5: the log says where a trip went (from memory).
#[test]
fn the_log_says_where_a_trip_went_as_far_as_it_is_known() {
    let text = |from: Option<&str>, to: Option<&str>| {
        let (from, to) = (from.map(str::to_owned), to.map(str::to_owned));
        recorded(rate("0.70"), &NewTrip { from, to, ..miles("12.5") }).unwrap().text
    };
    assert_eq!(text(None, None), "lumber for the shelves: 12.5 miles");
    assert_eq!(text(Some("the shop"), None), "lumber for the shelves: 12.5 miles, from the shop");
    assert_eq!(text(None, Some("the yard")), "lumber for the shelves: 12.5 miles, to the yard");
    assert_eq!(
        text(Some("the shop"), Some("the yard")),
        "lumber for the shelves: 12.5 miles, the shop to the yard"
    );
}

// Invariant 8.
#[test]
fn nobody_drives_on_a_closed_day() {
    let drive = NewTrip { objects: vec![for_episode(1)], ..miles("31.5") };
    keeps_out_of_closed_days("2025-01-01", |pen, date| {
        let trip = NewTrip { date, ..drive.clone() };
        travel(pen, Some(rate("0.70")), VehicleYear::NoActualCosts, &trip)
    });
}

// Invariant 5.
#[test]
fn a_drive_for_several_episodes_is_shared_to_the_cent() {
    holds_for_any(&(any_shares(), 1..900_000_i64), |(shares, tenths)| {
        let objects = asked(by_shares(&shares));
        let trip = NewTrip { objects, ..miles(&Decimal::new(tenths, 1).to_string()) };
        let got = recorded(rate("0.725"), &trip).unwrap();
        let whole = dollars(&balance(&got, Account::Expense(ExpenseClass::Vehicle)));
        cut_to_the_cent(whole, &shares, &given_to(&got, crate::rules::recording::Side::Cost, shares.len()))
    });
}

// Common practice, no source: 100 km are 62.137... miles, at 0.70 43.50.
#[test]
fn a_trip_says_how_it_was_priced_and_speaks_of_a_conversion_only_where_there_was_one() {
    let commuting = "the way between home and a regular place of work is commuting, which is not deducted; tolls and \
                     parking are purchases of their own";
    let trip = NewTrip { objects: vec![for_episode(1)], ..miles("100") };
    assert_eq!(
        recorded(rate("0.70"), &trip).unwrap().notes,
        ["70.00 at the standard rate of 0.70 a mile (the year's notice)", commuting]
    );
    let abroad = NewTrip { unit: DistanceUnit::Kilometre, ..trip };
    assert_eq!(
        recorded(rate("0.70"), &abroad).unwrap().notes,
        [
            "43.50 at the standard rate of 0.70 a mile (the year's notice)",
            "converted at 1.609344 kilometres to the mile",
            commuting
        ]
    );
}
