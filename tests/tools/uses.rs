//! The five ways a tool's cost reaches episodes, late uses, and uses taken back.

use serde_json::json;

use super::{Workshop, amounts, by_hour, owned};

// Derived: 600 over 400 hours is 1.50 an hour; 10.875 is rounded half up. 360 more hours would be 540.00; 600.00
// less the 76.13 booked is all there is.
#[test]
fn a_saw_costs_its_episodes_by_the_hour_and_never_more_than_its_cost_less_salvage() {
    let workshop = Workshop::open();
    let saw = workshop.buys_saw(by_hour());
    let uses = [("2025-03-02", 0, "12.5"), ("2025-03-09", 1, "7.25"), ("2025-03-16", 2, "31")];
    let path = format!("/v1/tools/{saw}/uses");
    let before = workshop.world.rows_written();
    let shown = workshop.owner.post(&format!("{path}?dry_run=true"), &workshop.uses(&uses));
    assert_eq!((shown.status, amounts(&shown.json())), (200, amounts_of(["18.75", "10.88", "46.50"])));
    assert_eq!(workshop.world.rows_written(), before);
    let logged = workshop.logs(&saw, &uses);
    assert_eq!(amounts(&logged), ["18.75", "10.88", "46.50"]);
    assert_eq!(logged["entries"], json!([]));
    assert_eq!(logged["attributions"][1]["episode"], *workshop.episodes[1]);
    assert_eq!(logged["attributions"][1]["category"], "tools");
    assert_eq!(workshop.shares(&saw), owned(&[(0, "18.75"), (1, "10.88"), (2, "46.50")]));
    assert_eq!(
        (workshop.standing(&saw)["uses"].as_u64(), workshop.spent_and_left(&saw)),
        (Some(3), ["76.13", "523.87"].map(str::to_owned))
    );
    let last = workshop.logs(&saw, &[("2025-04-02", 0, "360")]);
    assert_eq!(amounts(&last), ["523.87"]);
    assert!(last["notes"][1].as_str().unwrap().contains("600.00 in all"));
    assert!(amounts(&workshop.logs(&saw, &[("2025-04-03", 1, "10")])).is_empty());
    assert_eq!(workshop.spent_and_left(&saw), ["600.00", "0.00"]);
    // Found by the episode it served, though the last use cost it nothing.
    let found = workshop.owner.reads(&format!("/v1/tools/records?episode={}", workshop.episodes[1]));
    assert_eq!(found["items"].as_array().unwrap().len(), 2);
}

fn amounts_of<const N: usize>(amounts: [&str; N]) -> Vec<String> {
    amounts.map(str::to_owned).to_vec()
}

// Common practice, no source: 600 over 12 months is 50 a month; April is idle and stays with nobody.
#[test]
fn the_months_share_goes_to_the_months_uses_and_a_late_one_splits_it_anew() {
    let workshop = Workshop::open();
    let saw = workshop.buys_saw(json!({ "method": "straight_line", "months": 12 }));
    let first = workshop.logs(&saw, &[("2025-03-02", 0, "3")]);
    workshop.logs(&saw, &[("2025-05-02", 1, "")]);
    let late = workshop.logs(&saw, &[("2025-03-20", 1, "1")]);
    assert_eq!(amounts(&late), ["-12.50", "12.50"]);
    assert_eq!(workshop.shares(&saw), owned(&[(0, "37.50"), (1, "62.50")]));
    assert_eq!(workshop.spent_and_left(&saw), ["100.00", "500.00"]);
    // Hours on some only.
    let path = format!("/v1/tools/{saw}/uses");
    let refused = workshop.owner.is_refused(422, &path, workshop.uses(&[("2025-03-21", 2, "")]));
    assert!(refused.error_at("/uses/0/hours").starts_with("some uses in the month of 2025-03-21 have hours"));
    // The late use stands on the first of its month: alone that one is not taken back, together they are.
    let reversal = format!("/v1/records/{}/reversal", first["id"].as_str().unwrap());
    let refused = workshop.owner.is_refused(409, &reversal, json!({ "reason": "wrong tool" }));
    let said = refused.error_at("");
    assert!(said.contains(late["id"].as_str().unwrap()) && said.contains("take_back"), "{said}");
    workshop.takes_back(&first, "take_back");
    assert_eq!(workshop.shares(&saw), owned(&[(1, "50.00")]));
    assert_eq!(amounts(&workshop.logs(&saw, &[("2025-03-20", 1, "1")])), ["50.00"]);
}

// Common practice, no source.
#[test]
fn a_late_use_of_a_closed_month_is_kept_and_leaves_its_split_as_it_was() {
    let workshop = Workshop::open();
    let saw = workshop.buys_saw(json!({ "method": "straight_line", "months": 12 }));
    workshop.logs(&saw, &[("2025-03-02", 0, "")]);
    workshop
        .owner
        .records("/v1/books/closing", json!({ "through": "2025-04-30", "reason": "the quarter is done" }));
    let late = workshop.logs(&saw, &[("2025-03-20", 1, "")]);
    assert!(amounts(&late).is_empty());
    assert!(late["notes"][1].as_str().unwrap().starts_with("the month of 2025-03-20 is closed"));
    // April was idle: its share still finds its user, on the first open day.
    let idle = workshop.logs(&saw, &[("2025-04-20", 1, "")]);
    assert_eq!(
        (&idle["attributions"][0]["date"], amounts(&idle)),
        (&json!("2025-05-01"), amounts_of(["50.00"]))
    );
    assert_eq!(workshop.standing(&saw)["uses"], 3);
}

// Common practice, no source: the parts add up to 600 whoever joins.
#[test]
fn equal_shares_are_split_anew_as_more_episodes_join() {
    let workshop = Workshop::open();
    let saw = workshop.buys_saw(json!({ "method": "equal_share" }));
    assert_eq!(amounts(&workshop.logs(&saw, &[("2025-03-02", 0, "")])), ["600.00"]);
    let more = workshop.logs(&saw, &[("2025-04-02", 1, ""), ("2025-04-09", 2, ""), ("2025-04-10", 1, "")]);
    assert_eq!(amounts(&more), ["-400.00", "200.00", "200.00"]);
    assert_eq!(workshop.shares(&saw), owned(&[(0, "200.00"), (1, "200.00"), (2, "200.00")]));
    workshop.takes_back(&more, "refuse");
    assert_eq!(workshop.shares(&saw), owned(&[(0, "600.00")]));
}

// Common practice, no source: uneven thirds of 0.05 are the whole to the cent, and there is no 101st percent.
#[test]
fn percentages_charge_the_whole_when_they_come_to_a_hundred_and_never_more() {
    let workshop = Workshop::open();
    let brush = workshop.buys_saw(json!({ "cost": "49.05", "method": "percentages" }));
    let path = format!("/v1/tools/{brush}/uses");
    let use_of = |place: usize, share: &str| json!({ "date": "2025-03-02", "episode": workshop.episodes[place], "share": share });
    workshop.owner.records(&path, json!({ "uses": [use_of(0, "33.3333"), use_of(1, "33.3333")] }));
    let before = workshop.world.rows_written();
    let beyond = workshop.owner.is_refused(422, &path, json!({ "uses": [use_of(2, "33.3335")] }));
    assert!(
        beyond
            .error_at("/uses")
            .starts_with("the shares would come to 100.0001 %, 66.6666 % of it given before")
    );
    assert_eq!(workshop.world.rows_written(), before);
    workshop.owner.records(&path, json!({ "uses": [use_of(2, "33.3334")] }));
    assert_eq!(workshop.shares(&brush), owned(&[(0, "0.02"), (1, "0.01"), (2, "0.02")]));
    assert_eq!(workshop.spent_and_left(&brush), ["0.05", "0.00"]);
}

// Common practice, no source.
#[test]
fn a_tool_expensed_now_is_charged_to_its_first_uses_and_again_after_they_are_taken_back() {
    let workshop = Workshop::open();
    let saw = workshop.buys_saw(json!({ "method": "expense_now" }));
    let first = workshop.logs(&saw, &[("2025-03-02", 0, ""), ("2025-03-02", 0, ""), ("2025-03-09", 1, "")]);
    assert_eq!(amounts(&first), ["200.00", "200.00", "200.00"]);
    let free = workshop.logs(&saw, &[("2025-04-02", 2, "")]);
    assert!(amounts(&free).is_empty());
    // The free one is free because of the first: they go together, and the next use bears the whole.
    let reversal = format!("/v1/records/{}/reversal", first["id"].as_str().unwrap());
    workshop.owner.is_refused(409, &reversal, json!({ "reason": "wrong tool" }));
    let taken = workshop.takes_back(&first, "take_back");
    assert_eq!(amounts(&taken), ["-200.00", "-200.00", "-200.00"]);
    assert_eq!(workshop.spent_and_left(&saw), ["0.00", "600.00"]);
    assert_eq!(amounts(&workshop.logs(&saw, &[("2025-04-02", 2, "")])), ["600.00"]);
}

// Common practice, no source: 600 over 400 hours; three hours logged by mistake free 4.50.
#[test]
fn a_use_taken_back_frees_what_it_bore_and_is_taken_back_once() {
    let workshop = Workshop::open();
    let saw = workshop.buys_saw(by_hour());
    let wrong = workshop.logs(&saw, &[("2025-03-02", 0, "3")]);
    workshop.logs(&saw, &[("2025-03-03", 1, "3")]);
    let taken = workshop.takes_back(&wrong, "refuse");
    assert_eq!((amounts(&taken), &taken["entries"]), (amounts_of(["-4.50"]), &json!([])));
    assert_eq!(workshop.shares(&saw), owned(&[(1, "4.50")]));
    let standing = workshop.standing(&saw);
    assert_eq!((&standing["uses"], &standing["hours_run"]), (&json!(1), &json!("3")));
    let reversal = format!("/v1/records/{}/reversal", wrong["id"].as_str().unwrap());
    let again = workshop.owner.is_refused(409, &reversal, json!({ "reason": "twice" }));
    assert!(again.error_at("").contains("taken back before"));
    let read = workshop.owner.reads(&format!("/v1/records/{}", wrong["id"].as_str().unwrap()));
    assert_eq!(read["reversed_by"], taken["id"]);
    // The tool itself is not taken back while a use stands on it.
    workshop.owner.is_refused(
        409,
        &format!("/v1/records/{saw}/reversal"),
        json!({ "reason": "never bought" }),
    );
}

// Common practice, no source.
#[test]
fn five_hundred_uses_go_in_one_call_and_one_more_does_not() {
    let workshop = Workshop::open();
    let saw = workshop.buys_saw(by_hour());
    let path = format!("/v1/tools/{saw}/uses");
    let mut uses: Vec<_> = (0..500).map(|number| ("2025-03-02", number % 3, "0.8")).collect();
    assert_eq!(amounts(&workshop.logs(&saw, &uses)).len(), 500);
    assert_eq!(workshop.spent_and_left(&saw), ["600.00", "0.00"]);
    assert_eq!(workshop.shares(&saw), owned(&[(0, "200.40"), (1, "200.40"), (2, "199.20")]));
    uses.push(("2025-03-02", 0, "0.8"));
    let before = workshop.world.rows_written();
    let refused = workshop.owner.is_refused(422, &path, workshop.uses(&uses));
    assert!(refused.error_at("/uses").starts_with("501 are given in one list, which takes 500"));
    assert_eq!(workshop.world.rows_written(), before);
}

// Common practice, no source: four at once ask for 1,200 of the 600 there are.
#[test]
fn uses_logged_at_the_same_moment_share_what_there_is() {
    let workshop = Workshop::open();
    let saw = workshop.buys_saw(by_hour());
    std::thread::scope(|scope| {
        for place in [0, 1, 2, 0] {
            let (workshop, saw) = (&workshop, &saw);
            scope.spawn(move || workshop.logs(saw, &[("2025-03-02", place, "200")]));
        }
    });
    assert_eq!(workshop.spent_and_left(&saw), ["600.00", "0.00"]);
    assert_eq!(workshop.standing(&saw)["uses"], 4);
}

// Common practice, no source.
#[test]
fn every_fault_of_the_uses_is_told_at_its_place_and_nothing_is_written() {
    let workshop = Workshop::open();
    let saw = workshop.buys_saw(by_hour());
    let path = format!("/v1/tools/{saw}/uses");
    let elsewhere = workshop.world.stranger().has_project("Somebody else's hall");
    let before = workshop.world.rows_written();
    let refused = workshop.owner.is_refused(
        422,
        &path,
        json!({ "uses": [{ "date": "2025-02-28", "hours": "1" },
                         { "date": "2025-03-02", "episode": workshop.episodes[0], "share": "10" },
                         { "date": "2025-03-02", "episode": workshop.episodes[0], "hours": "0" }] }),
    );
    assert!(refused.error_at("/uses/0/date").contains("before it went into service on 2025-03-01"));
    assert!(refused.error_at("/uses/0").starts_with("neither an episode nor a project is named"));
    assert!(refused.error_at("/uses/1/hours").contains("the use has no hours"));
    assert!(refused.error_at("/uses/1/share").contains("not charged by percentages"));
    assert!(refused.error_at("/uses/2/hours").starts_with("the use has zero hours"));
    let unknown = json!({ "uses": [{ "date": "2025-03-02", "episode": workshop.episodes[0], "hours": "1" },
                                   { "date": "2025-03-02", "project": elsewhere, "hours": "1" }] });
    let refused = workshop.owner.is_refused(422, &path, unknown);
    assert!(refused.error_at("/uses/1/project").starts_with("these books have no projects with the id"));
    assert_eq!(workshop.world.rows_written(), before);
}
