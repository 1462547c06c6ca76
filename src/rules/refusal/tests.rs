use super::super::money::MoneyFinding;
use super::super::recording::RecordFinding;
use super::super::split::SplitFinding;
use super::{At, Explain, Findings, Refusal, Said, Standing};

#[derive(Debug)]
struct AlreadySold;

impl Explain for AlreadySold {
    fn say(&self) -> Said {
        Said::conflict("the dresser was sold on 2026-03-14", "reverse that sale first")
    }
}

#[test]
fn all_findings_come_in_one_answer_each_at_its_place() {
    let mut findings = Findings::new();
    assert_eq!(findings.keep::<i32>(Err(MoneyFinding::DividedByZero).at("/total")), None);
    assert_eq!(findings.keep(Ok::<_, Refusal>(3)), Some(3));
    findings.add(Refusal::new("/name", RecordFinding::NeedsText { what: "name" }));
    let refusal = findings.or_refuse().unwrap_err().under("/lines/2");
    let pointers: Vec<_> = refusal.findings().map(|finding| finding.pointer.as_str()).collect();
    assert_eq!(pointers, ["/lines/2/total", "/lines/2/name"]);
    assert_eq!(
        refusal.to_string(),
        "/lines/2/total: this would divide by zero (give a total that is not zero); \
         /lines/2/name: the name is empty (give the name in a few words)"
    );
    assert!(Findings::new().or_refuse().is_ok());
}

#[test]
fn a_conflict_is_one_only_where_nothing_in_the_request_itself_is_wrong() {
    let mut findings = Findings::new();
    findings.add(AlreadySold);
    findings.add(AlreadySold);
    assert_eq!(findings.or_refuse().unwrap_err().standing(), Standing::Conflict);

    let mut findings = Findings::new();
    findings.add(AlreadySold);
    findings.add(SplitFinding::NoWeight);
    assert_eq!(findings.or_refuse().unwrap_err().standing(), Standing::Invalid);
}
