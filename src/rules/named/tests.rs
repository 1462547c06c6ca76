//! Every code word of every enum.

use std::collections::BTreeSet;

use utoipa::{PartialSchema, ToSchema};

/// On the wire, in the database, in the contract and in a sentence a variant has one name, and no other has it.
macro_rules! reads_back {
    ($($path:ident)::+) => {{
        use $crate::rules::$($path)::+ as One;
        let names: Vec<&str> = One::ALL.iter().map(|one| one.as_str()).collect();
        let once: BTreeSet<&&str> = names.iter().collect();
        assert_eq!(once.len(), names.len(), "{}: a name stands for two", One::name());
        let contract = serde_json::to_value(One::schema()).unwrap();
        assert_eq!(contract["enum"], serde_json::json!(names), "{}", One::name());
        for one in One::ALL {
            assert_eq!(One::named(one.as_str()), Some(*one));
            assert_eq!(one.to_string(), one.as_str());
            let written = serde_json::to_value(one).unwrap();
            assert_eq!(written, one.as_str());
            assert_eq!(serde_json::from_value::<One>(written).unwrap(), *one);
        }
        assert_eq!(One::named("no such word"), None);
    }};
}

#[test]
fn every_code_word_reads_back_as_itself_and_is_in_the_contract() {
    reads_back!(attributions::ThingBehind);
    reads_back!(rows::OverheadBasis);
    reads_back!(rows::OverheadRate);
    reads_back!(costing::OverOrUnder);
    reads_back!(costing::RecoveryKind);
    reads_back!(deals::Beyond);
    reads_back!(entries::Dependants);
    reads_back!(furniture::PieceState);
    reads_back!(furniture::BusinessPurpose);
    reads_back!(furniture::DepositEnd);
    reads_back!(furniture::LeavingAsked);
    reads_back!(gifts::KeptAs);
    reads_back!(gifts::GiftBecame);
    reads_back!(journal::Stream);
    reads_back!(journal::TaxClass);
    reads_back!(journal::ExpenseClass);
    reads_back!(journal::Draw);
    reads_back!(journal::EntryKind);
    reads_back!(openings::OpeningOf);
    reads_back!(openings::Standing);
    reads_back!(purchases::PaymentTime);
    reads_back!(recording::Word);
    reads_back!(recording::AccountingMethod);
    reads_back!(recording::MaterialsTiming);
    reads_back!(recording::MaterialsFlow);
    reads_back!(recording::MoneyAccountKind);
    reads_back!(recording::Category);
    reads_back!(recording::Side);
    reads_back!(recording::SourceKind);
    reads_back!(recording::MovementKind);
    reads_back!(rows::LotStanding);
    reads_back!(rows::LotMoveKind);
    reads_back!(rows::PieceOrigin);
    reads_back!(rows::PiecePurpose);
    reads_back!(rows::SaleCharacter);
    reads_back!(rows::LeavingKind);
    reads_back!(rows::ConsignmentAct);
    reads_back!(rows::DepositAct);
    reads_back!(rows::PieceBack);
    reads_back!(rows::GiftRelation);
    reads_back!(rows::GiftFate);
    reads_back!(rows::ReceivedFrom);
    reads_back!(rows::PartyRole);
    reads_back!(rows::Place);
    reads_back!(rows::LabourStanding);
    reads_back!(rows::DistanceUnit);
    reads_back!(rows::ToolOrigin);
    reads_back!(rows::RecoveryClass);
    reads_back!(rows::PropertyType);
    reads_back!(rows::TaxChoice);
    reads_back!(rows::Convention);
    reads_back!(rows::DisposalKind);
    reads_back!(rows::ElectionKind);
    reads_back!(rows::PeriodActKind);
    reads_back!(rows::ChargeKind);
    reads_back!(tax_year::home::HomeSide);
    reads_back!(tax_year::macrs::Quarter);
    reads_back!(tax_year::payees::PaidFor);
    reads_back!(tax_year::payees::PayeeStanding);
    reads_back!(tax_year::profile::Mark);
    reads_back!(tax_year::profile::Part);
    reads_back!(tax_year::profile::FormStanding);
    reads_back!(tax_year::questions::Topic);
    reads_back!(tie::TieOf);
    reads_back!(tokens::Scope);
    reads_back!(tool_terms::PlanName);
    reads_back!(tools::ToolState);
    reads_back!(treatment::TreatmentName);
    reads_back!(verify::Checked);
}
