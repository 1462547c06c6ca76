//! United States, 2025.

use super::profile::{FormStanding, MileageRate, Profile, Section179Limits, figure, seen};
use super::us;

pub(super) const PROFILE: Profile = Profile {
    jurisdiction: us::JURISDICTION,
    year: 2025,
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
    lines_source: seen("form definitions of Schedule C for 2024 and 2025"),
    section_179: Section179Limits {
        maximum: figure(2_500_000, 0, seen("IRC 179(b) as amended by P.L. 119-21")),
        shrinks_from: figure(4_000_000, 0, seen("IRC 179(b) as amended by P.L. 119-21")),
        heavy_vehicle: figure(31_300, 0, seen("IRC 179(b)(5) for 2025")),
    },
    special_allowance: us::SPECIAL_ALLOWANCE,
    de_minimis_per_item: us::DE_MINIMIS,
    de_minimis_with_statement: us::DE_MINIMIS_WITH_STATEMENT,
    materials_per_unit: us::MATERIALS_UNIT,
    mileage: MileageRate {
        per_mile: figure(70, 2, seen("Notice 2025-05")),
        depreciation_part: figure(33, 2, seen("Notice 2025-05")),
    },
    home_office: us::HOME_OFFICE,
    information_return: figure(600, 0, seen("IRC 6041(a), payments through 2025")),
    simple_stock_receipts: figure(31_000_000, 0, seen("gross receipts test of IRC 448(c), 2025")),
    tips_deduction: Some(seen("IRC 224; T.D. 10044, 91 FR 19026")),
};
