//! Vehicles: the standard rate and actual costs do not go together for one vehicle in one year. Trips, purchases and
//! every way in of a tool hold this, each from its own side.

/// Vehicles with trips at the standard rate, by year.
#[derive(Clone, Debug, Default)]
pub struct VehiclesAtRate(Vec<(String, i32)>);

impl VehiclesAtRate {
    pub const fn none() -> Self {
        Self(Vec::new())
    }

    /// Whether that vehicle has such trips in that year.
    pub fn has(&self, vehicle: &str, year: i32) -> bool {
        self.years_of(vehicle).any(|one| one == year)
    }

    /// The first year with such trips of that vehicle, from `year` on.
    pub fn first_since(&self, vehicle: &str, year: i32) -> Option<i32> {
        self.years_of(vehicle).filter(|one| *one >= year).min()
    }

    /// Small and capital letters are the same: the van is the Van.
    fn years_of(&self, vehicle: &str) -> impl Iterator<Item = i32> {
        let same = vehicle.trim().to_lowercase();
        self.0.iter().filter(move |(one, _)| one.trim().to_lowercase() == same).map(|(_, year)| *year)
    }
}

impl FromIterator<(String, i32)> for VehiclesAtRate {
    fn from_iter<I: IntoIterator<Item = (String, i32)>>(trips: I) -> Self {
        Self(trips.into_iter().collect())
    }
}
