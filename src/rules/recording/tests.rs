use super::*;

// Common practice, no source: the owner's own headings, beside the classes of the return.
#[test]
fn a_cost_stands_on_a_statement_where_its_class_suggests_unless_the_person_says_otherwise() {
    let usual = |classes: &[TaxClass]| -> Vec<Category> {
        classes.iter().map(|class| Category::usual_for(*class)).collect()
    };
    assert_eq!(usual(&[TaxClass::SmallTools, TaxClass::RentEquipment]), [Category::Tools; 2]);
    let materials =
        [TaxClass::Supplies, TaxClass::ResaleMaterials, TaxClass::HomeImprovement, TaxClass::HomeRepair];
    assert_eq!(usual(&materials), [Category::Materials; 4]);
    assert_eq!(usual(&[TaxClass::ResalePurchases]), [Category::Furniture]);
    let labour = [TaxClass::ContractLabour, TaxClass::Wages, TaxClass::ResaleLabour];
    assert_eq!(usual(&labour), [Category::PaidLabour; 3]);
    assert_eq!(usual(&[TaxClass::Vehicle, TaxClass::Travel]), [Category::Trips; 2]);
    let services = [TaxClass::LegalProfessional, TaxClass::Software, TaxClass::Advertising];
    assert_eq!(usual(&services), [Category::Services; 3]);
    assert_eq!(usual(&[TaxClass::TaxesLicences]), [Category::PermitsDelivery]);
    assert_eq!(usual(&[TaxClass::Insurance]), [Category::Other]);
}
