use super::super::journal::{ExpenseClass, TaxClass};
use super::{Treatment, TreatmentAsked, TreatmentName};

fn every_treatment() -> Vec<Treatment> {
    let bought =
        |class: &&ExpenseClass| !matches!(class, ExpenseClass::Depreciation | ExpenseClass::SmallTools);
    let mut all: Vec<_> =
        ExpenseClass::ALL.iter().filter(bought).map(|class| Treatment::Expense(*class)).collect();
    all.extend([
        Treatment::Resale,
        Treatment::Tool,
        Treatment::HomeImprovement,
        Treatment::HomeRepair,
        Treatment::Personal,
    ]);
    all
}

#[test]
fn every_treatment_is_found_again_by_its_code() {
    for treatment in every_treatment() {
        assert_eq!(Treatment::of_code(&treatment.code()), Some(treatment));
    }
    for unknown in ["", "expense", "expense:", "expense:paint", "resale:supplies", "tool:"] {
        assert_eq!(Treatment::of_code(unknown), None, "{unknown}");
    }
}

#[test]
fn every_treatment_is_found_again_by_its_name_and_class() {
    for treatment in every_treatment() {
        let class = if let Treatment::Expense(class) = treatment { Some(class) } else { None };
        assert_eq!(Treatment::of(treatment.name(), class).unwrap(), treatment);
    }
}

#[test]
fn a_class_that_is_missing_or_out_of_place_is_refused_where_it_belongs() {
    for (name, class) in [
        (TreatmentName::Expense, None),
        (TreatmentName::Resale, Some(ExpenseClass::Supplies)),
        (TreatmentName::Expense, Some(ExpenseClass::Depreciation)),
        (TreatmentName::Expense, Some(ExpenseClass::SmallTools)),
    ] {
        let refusal = Treatment::of(name, class).unwrap_err();
        assert_eq!(refusal.findings().next().unwrap().pointer, "/class");
    }
}

#[test]
fn what_the_business_uses_is_booked_where_costs_are_carried() {
    for treatment in every_treatment() {
        let (account, _) = treatment.books_to(TaxClass::ResaleMaterials);
        assert!(account.carries_costs(), "{treatment:?}");
    }
}

#[test]
fn every_treatment_is_asked_for_again_as_a_request_says_it() {
    for treatment in every_treatment() {
        assert_eq!(TreatmentAsked::from(treatment).treatment().unwrap(), treatment);
    }
}
