//! What the United States' years 2023 to 2026 have in common: the lines of Schedule C (Form 1040) and the dates of
//! the special allowance. Labels are short names, not the form's wording.

use super::super::journal::TaxClass;
use super::profile::{
    AllowanceRate, Day, Feed, Figure, FormLine, HomeOfficeRate, Item, ItemFeed, Part, Sign, figure,
    from_memory, seen,
};

pub(super) const JURISDICTION: &str = "us";
pub(super) const CURRENCY: &str = "USD";
pub(super) const FORM: &str = "Schedule C (Form 1040)";

const NOT_IN_THE_BOOKS: Feed = Feed::Words("not in the books");
const PLUS: Sign = Sign::Plus;
const MINUS: Sign = Sign::Minus;

/// Lines 1 to 7. Sponsors' goods are barter at fair value on the day received; a vendor's refund of a cost
/// deducted in an earlier year is other income, and so is depreciation that comes back where the use for the business
/// falls to half or less, by way of Form 4797 Part IV (Schedule C instructions, lines 1, 2 and 6, from memory).
pub(super) const PART_I: &[FormLine] = &[
    FormLine::new(
        Part::Income,
        "1",
        "Gross receipts or sales",
        Feed::Income(&[
            TaxClass::Sponsorship,
            TaxClass::GoodsForPromotion,
            TaxClass::AdvertisingIncome,
            TaxClass::Memberships,
            TaxClass::Tips,
            TaxClass::Affiliate,
            TaxClass::Licensing,
            TaxClass::FurnitureSales,
        ]),
    ),
    FormLine::new(Part::Income, "2", "Returns and allowances", Feed::Cost(&[TaxClass::ReturnsAllowances])),
    FormLine::new(Part::Income, "3", "Net receipts", Feed::Sum(&[(PLUS, "1"), (MINUS, "2")])),
    FormLine::new(Part::Income, "4", "Cost of goods sold", Feed::Sum(&[(PLUS, "42")])),
    FormLine::new(Part::Income, "5", "Gross profit", Feed::Sum(&[(PLUS, "3"), (MINUS, "4")])),
    FormLine::new(Part::Income, "6", "Other income", Feed::IncomeAndRecapture(&[TaxClass::OtherIncome])),
    FormLine::new(Part::Income, "7", "Gross income", Feed::Sum(&[(PLUS, "5"), (PLUS, "6")])),
];

const fn cost(line: &'static str, label: &'static str, classes: &'static [TaxClass]) -> FormLine {
    FormLine::new(Part::Expenses, line, label, Feed::Cost(classes))
}

const fn blank(line: &'static str, label: &'static str) -> FormLine {
    FormLine::new(Part::Expenses, line, label, Feed::Nothing)
}

/// Lines 8 to 26 (names seen in form definitions; that platform and agents' fees go to line 10 from memory; the
/// half of meals on 24b: instructions for 2024, seen).
pub(super) const PART_II_TO_26: &[FormLine] = &[
    cost("8", "Advertising", &[TaxClass::Advertising]),
    cost("9", "Car and truck expenses", &[TaxClass::Vehicle]),
    cost("10", "Commissions and fees", &[TaxClass::CommissionsFees]),
    cost("11", "Contract labor", &[TaxClass::ContractLabour]),
    blank("12", "Depletion"),
    FormLine::new(Part::Expenses, "13", "Depreciation and section 179", Feed::Depreciation),
    blank("14", "Employee benefit programs"),
    cost("15", "Insurance other than health", &[TaxClass::Insurance]),
    blank("16a", "Interest on mortgages paid to banks"),
    cost("16b", "Other interest", &[TaxClass::Interest]),
    cost("17", "Legal and professional services", &[TaxClass::LegalProfessional]),
    cost("18", "Office expense", &[TaxClass::Office]),
    blank("19", "Pension and profit-sharing plans"),
    cost("20a", "Rent of vehicles, machinery and equipment", &[TaxClass::RentEquipment]),
    cost("20b", "Rent of other business property", &[TaxClass::RentProperty]),
    cost("21", "Repairs and maintenance", &[TaxClass::Repairs]),
    cost("22", "Supplies", &[TaxClass::Supplies]),
    cost("23", "Taxes and licenses", &[TaxClass::TaxesLicences]),
    cost("24a", "Travel", &[TaxClass::Travel]),
    FormLine::new(Part::Expenses, "24b", "Deductible meals", Feed::Share(TaxClass::Meals, 50)),
    cost("25", "Utilities", &[TaxClass::Utilities]),
    cost("26", "Wages", &[TaxClass::Wages]),
];

/// For 2023 (seen: the tax agency's page on 2023 home-office expenses).
pub(super) const OTHER_ON_27A: &[FormLine] = &[
    FormLine::new(Part::Expenses, "27a", "Other expenses, from line 48", Feed::Sum(&[(PLUS, "48")])),
    blank("27b", "Reserved"),
];

/// For 2024 and 2025 (seen: form definitions).
pub(super) const OTHER_ON_27B: &[FormLine] = &[
    blank("27a", "Energy-efficient commercial buildings"),
    FormLine::new(Part::Expenses, "27b", "Other expenses, from line 48", Feed::Sum(&[(PLUS, "48")])),
];

pub(super) const PART_II_FROM_28: &[FormLine] = &[
    FormLine::new(
        Part::Expenses,
        "28",
        "Total expenses before the home office",
        Feed::Sum(&[
            (PLUS, "8"),
            (PLUS, "9"),
            (PLUS, "10"),
            (PLUS, "11"),
            (PLUS, "12"),
            (PLUS, "13"),
            (PLUS, "14"),
            (PLUS, "15"),
            (PLUS, "16a"),
            (PLUS, "16b"),
            (PLUS, "17"),
            (PLUS, "18"),
            (PLUS, "19"),
            (PLUS, "20a"),
            (PLUS, "20b"),
            (PLUS, "21"),
            (PLUS, "22"),
            (PLUS, "23"),
            (PLUS, "24a"),
            (PLUS, "24b"),
            (PLUS, "25"),
            (PLUS, "26"),
            (PLUS, "27a"),
            (PLUS, "27b"),
        ]),
    ),
    FormLine::new(Part::Expenses, "29", "Tentative profit", Feed::Sum(&[(PLUS, "7"), (MINUS, "28")])),
    FormLine::new(
        Part::Expenses,
        "30",
        "Business use of the home",
        Feed::HomeOffice { actual: TaxClass::HomeOffice, no_more_than: "29" },
    ),
    FormLine::new(Part::Expenses, "31", "Net profit or loss", Feed::Sum(&[(PLUS, "29"), (MINUS, "30")])),
    FormLine::new(Part::Expenses, "32", "With a loss: what is at risk", NOT_IN_THE_BOOKS),
];

const fn sold(line: &'static str, label: &'static str, feed: Feed) -> FormLine {
    FormLine::new(Part::GoodsSold, line, label, feed)
}

/// Lines 33 to 42 (Pub. 334 ch. 6, seen). Line 36 is net of what was withdrawn for personal use because the
/// withdrawal is posted with the class of the purchase.
pub(super) const PART_III: &[FormLine] = &[
    sold("33", "Method of valuing closing inventory", Feed::Words("cost")),
    sold("34", "Change in quantities, costs or valuations", NOT_IN_THE_BOOKS),
    sold("35", "Inventory at the beginning of the year", Feed::OpeningStock),
    sold("36", "Purchases less personal withdrawals", Feed::Cost(&[TaxClass::ResalePurchases])),
    sold("37", "Cost of labor, none of it the owner's", Feed::Cost(&[TaxClass::ResaleLabour])),
    sold("38", "Materials and supplies", Feed::Cost(&[TaxClass::ResaleMaterials])),
    sold("39", "Other costs", Feed::Cost(&[TaxClass::ResaleOther])),
    sold(
        "40",
        "Sum of lines 35 to 39",
        Feed::Sum(&[(PLUS, "35"), (PLUS, "36"), (PLUS, "37"), (PLUS, "38"), (PLUS, "39")]),
    ),
    sold("41", "Inventory at the end of the year", Feed::ClosingStock),
    sold("42", "Cost of goods sold", Feed::Sum(&[(PLUS, "40"), (MINUS, "41")])),
];

const fn vehicle(line: &'static str, label: &'static str, feed: Feed) -> FormLine {
    FormLine::new(Part::Vehicle, line, label, feed)
}

/// Lines 43 to 47 (from memory).
pub(super) const PART_IV: &[FormLine] = &[
    vehicle("43", "Day the vehicle came into service", NOT_IN_THE_BOOKS),
    vehicle("44a", "Business miles", Feed::BusinessMiles),
    vehicle("44b", "Commuting miles", NOT_IN_THE_BOOKS),
    vehicle("44c", "Other miles", NOT_IN_THE_BOOKS),
    vehicle("45", "Available for personal use off duty", NOT_IN_THE_BOOKS),
    vehicle("46", "Another vehicle for personal use", NOT_IN_THE_BOOKS),
    vehicle("47a", "Evidence for the deduction", NOT_IN_THE_BOOKS),
    vehicle("47b", "Evidence in writing", NOT_IN_THE_BOOKS),
];

const fn item(label: &'static str, class: TaxClass) -> Item {
    Item { label, feed: ItemFeed::Class(class) }
}

/// Line 48 and its list (that these belong there: Schedule C instructions, Part V, from memory).
pub(super) const PART_V: &[FormLine] = &[
    FormLine::new(
        Part::OtherExpenses,
        "item",
        "Other expenses",
        Feed::Items(&[
            item("Software and subscriptions", TaxClass::Software),
            item("Education and training", TaxClass::Education),
            item("Bank and payment fees", TaxClass::BankFees),
            Item { label: "De minimis safe harbor tools", feed: ItemFeed::SmallToolsByElection },
            Item { label: "Small tools as materials and supplies", feed: ItemFeed::SmallToolsAsSupplies },
            item("Other", TaxClass::OtherExpense),
        ]),
    ),
    FormLine::new(Part::OtherExpenses, "48", "Total other expenses", Feed::SumOfItems),
];

const FIRST_DAY: Day = (2017, 9, 28);
const LAST_OLD_DAY: Day = (2025, 1, 19);
const FIRST_NEW_DAY: Day = (2025, 1, 20);
const NO_END: Day = (9999, 12, 31);
const OLD: (Day, Day) = (FIRST_DAY, LAST_OLD_DAY);

/// The special allowance by the day of acquisition (a binding contract's day) and of coming into service.
pub(super) const SPECIAL_ALLOWANCE: &[AllowanceRate] = &[
    AllowanceRate {
        acquired: OLD,
        in_service: (FIRST_DAY, (2022, 12, 31)),
        percent: 100,
        source: from_memory("IRC 168(k)(6) as enacted in 2017"),
    },
    AllowanceRate {
        acquired: OLD,
        in_service: ((2023, 1, 1), (2023, 12, 31)),
        percent: 80,
        source: seen("IRC 168(k)(6) before the 2025 act"),
    },
    AllowanceRate {
        acquired: OLD,
        in_service: ((2024, 1, 1), (2024, 12, 31)),
        percent: 60,
        source: seen("IRC 168(k)(6) before the 2025 act"),
    },
    AllowanceRate {
        acquired: OLD,
        in_service: ((2025, 1, 1), (2025, 12, 31)),
        percent: 40,
        source: seen("IRC 168(k)(6) before the 2025 act"),
    },
    AllowanceRate {
        acquired: OLD,
        in_service: ((2026, 1, 1), (2026, 12, 31)),
        percent: 20,
        source: seen("IRC 168(k)(6) before the 2025 act, in a secondary source"),
    },
    AllowanceRate {
        acquired: OLD,
        in_service: ((2027, 1, 1), NO_END),
        percent: 0,
        source: seen("IRC 168(k)(6) before the 2025 act, in a secondary source"),
    },
    AllowanceRate {
        acquired: (FIRST_NEW_DAY, NO_END),
        in_service: (FIRST_NEW_DAY, NO_END),
        percent: 100,
        source: seen("Notice 2026-11 on IRC 168(k) as amended by P.L. 119-21"),
    },
];

/// What the 2025 election gives instead of 100 percent.
pub(super) const LOWER_ALLOWANCE_2025: Figure =
    figure(40, 0, from_memory("IRC 168(k)(10) as amended by P.L. 119-21"));

pub(super) const DE_MINIMIS: Figure =
    figure(2500, 0, seen("Reg. 1.263(a)-1(f) and Notice 2015-82, without an applicable financial statement"));

pub(super) const DE_MINIMIS_WITH_STATEMENT: Figure =
    figure(5000, 0, seen("Reg. 1.263(a)-1(f), with an applicable financial statement"));

pub(super) const MATERIALS_UNIT: Figure = figure(200, 0, from_memory("Reg. 1.162-3(c)(1)(iv)"));

/// The same since 2013.
pub(super) const HOME_OFFICE: HomeOfficeRate = HomeOfficeRate {
    per_square_foot: figure(5_00, 2, seen("IRS Publication 587, simplified method")),
    most: figure(300, 0, seen("IRS Publication 587, simplified method")),
    days: 15,
};
