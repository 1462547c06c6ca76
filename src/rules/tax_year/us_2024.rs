//! United States, 2024.

use super::profile::{FormStanding, MileageRate, Profile, Section179Limits, figure, seen};
use super::us;

pub(super) const PROFILE: Profile = Profile {
    jurisdiction: us::JURISDICTION,
    year: 2024,
    currency: us::CURRENCY,
    form: us::FORM,
    standing: FormStanding::Published,
    lines: &[
        us::PART_I,
        us::PART_II_TO_26,
        us::OTHER_ON_27B,
        us::PART_II_FROM_28,
        us::PART_III,
        us::PART_IV,
        us::PART_V,
    ],
    other_expenses_line: "27b",
    lines_source: seen("form definitions of Schedule C for 2024"),
    section_179: Section179Limits {
        maximum: figure(1_220_000, 0, seen("section 179 limits for 2024")),
        shrinks_from: figure(3_050_000, 0, seen("section 179 limits for 2024")),
        heavy_vehicle: figure(30_500, 0, seen("IRC 179(b)(5) for 2024, in a secondary source")),
    },
    special_allowance: us::SPECIAL_ALLOWANCE,
    de_minimis_per_item: us::DE_MINIMIS,
    de_minimis_with_statement: us::DE_MINIMIS_WITH_STATEMENT,
    materials_per_unit: us::MATERIALS_UNIT,
    mileage: MileageRate {
        per_mile: figure(67, 2, seen("Notice 2024-08")),
        depreciation_part: figure(30, 2, seen("Notice 2024-08")),
    },
    home_office: us::HOME_OFFICE,
    information_return: figure(600, 0, seen("IRC 6041(a), payments through 2025")),
    simple_stock_receipts: figure(30_000_000, 0, seen("gross receipts test of IRC 448(c), 2024")),
    tips_deduction: None,
};
