//! United States, 2023.

use super::profile::{FormStanding, MileageRate, Profile, Section179Limits, figure, seen};
use super::us;

pub(super) const PROFILE: Profile = Profile {
    jurisdiction: us::JURISDICTION,
    year: 2023,
    currency: us::CURRENCY,
    form: us::FORM,
    standing: FormStanding::Published,
    lines: &[
        us::PART_I,
        us::PART_II_TO_26,
        us::OTHER_ON_27A,
        us::PART_II_FROM_28,
        us::PART_III,
        us::PART_IV,
        us::PART_V,
    ],
    other_expenses_line: "27a",
    lines_source: seen("tax agency page on home-office expenses of 2023"),
    section_179: Section179Limits {
        maximum: figure(1_160_000, 0, seen("Pub. 946 (2023), what is new")),
        shrinks_from: figure(2_890_000, 0, seen("Pub. 946 (2023), what is new")),
        heavy_vehicle: figure(28_900, 0, seen("IRC 179(b)(5); Pub. 946 (2023), what is new")),
    },
    special_allowance: us::SPECIAL_ALLOWANCE,
    de_minimis_per_item: us::DE_MINIMIS,
    de_minimis_with_statement: us::DE_MINIMIS_WITH_STATEMENT,
    materials_per_unit: us::MATERIALS_UNIT,
    mileage: MileageRate {
        per_mile: figure(655, 3, seen("standard mileage rates, 2023")),
        depreciation_part: figure(28, 2, seen("Notice 2024-08")),
    },
    home_office: us::HOME_OFFICE,
    information_return: figure(600, 0, seen("IRC 6041(a), payments through 2025")),
    simple_stock_receipts: figure(29_000_000, 0, seen("gross receipts test of IRC 448(c), 2023")),
    tips_deduction: None,
};
