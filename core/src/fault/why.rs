//! Why a value is refused or doubted: what is wrong, what comes of it, what to do.

/// Declares the reasons with their texts.
macro_rules! reasons {
    ($($why:ident $text:literal,)*) => {
        /// What is wrong with a value that lies within its range.
        #[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
        #[cfg_attr(feature = "defmt", derive(defmt::Format))]
        #[allow(missing_docs)] // each is told by its text
        #[non_exhaustive]
        pub enum Why {
            $($why,)*
        }

        impl Why {
            /// What to tell people. Only a program that shows it carries the texts.
            #[must_use]
            pub const fn text(self) -> &'static str {
                match self { $(Self::$why => $text,)* }
            }
        }
    };
}

reasons! {
    TooFewTanks "there must be at least one tank",
    TooFewLifts "there must be at least one lift",
    BlowerPoints "a blower curve needs at least two points, from shut valves to no pressure",
    BlowerAirFalls "air must rise from point to point of the blower curve",
    BlowerPressureRises "pressure must fall as air rises along the blower curve",
    AreaUntold "the water surface of the tank must be told",
    AreaLevelsFall "levels must rise along the area table",
    ScalePointsEqual "the two points of a sensor's scale must differ",
    ScaleLevelsEqual "the two levels of a sensor's scale must differ",
    NoSuchTank "there is no tank with this number",
    OutletIntoItself "an outlet cannot lead back into its own tank",
    OutletPoints "a measured outlet needs at least two points",
    OutletTableFalls "levels must rise and flows may not fall along the table",
    LiftIntoItself "a lift must lead from one tank to another",
    ValvePoints "a measured valve needs at least two points",
    ValveTableFalls "opening and share must both rise along the table",
    OutletAboveRim "the outlet lies above the tank's rim: it would run over first",
    NoWayOut "a lift feeds this tank but nothing leads out of it: it would run over",
    ActsBelowOutlet "the level that acts lies at or below the lowest outlet: its lifts would always be held",
    RunsOverWideOpen "with every valve wide open, as after a lost signal, this tank runs over its rim: fit a wider or lower overflow, or stops on the valves",
    SinksWideOpen "with every valve wide open, as after a lost signal, this tank sinks below its acting level: a bigger tank, or stops on the valves",
    FootDryWideOpen "with every valve wide open, as after a lost signal, its source sinks to this lift's foot",
    FloorAboveThePreset "with every valve at the preset opening, as at a start, after resets or without its host, this lift gets less air than its floor: a wider preset",
    RiserUpsideDown "the riser's outlet must stand above its air inlet",
    InletNeverWet "the air inlet stands above the source's highest level: it would never be under water",
    RiserOutletBelowFloor "the riser's outlet lies below the floor of the tank it feeds",
    NoWayBack "water pumped into this tank has no way back to the source: the source would run dry",
    RiserOutletFarAbove "the riser's outlet stands more than a metre above the rim of the tank it feeds",
    CannotLift "no air can raise water this high from this depth: lower the outlet or put the air inlet deeper",
    TargetBeyondLift "the target is more than this lift can move even with its source at the highest level: use a wider or deeper riser",
    TargetBeyondReach "the target is out of reach when the source stands at the middle of its band",
    FloorMovesWater "the air floor is above the onset: at the floor this lift still moves water, so a full tank is held only by going below it",
    RunsWithoutAir "the source stands above the outlet: water runs without air, and closing the valve does not stop it",
    FloorPastPeak "the air floor is past the peak: this much air moves less water than some of it would",
    TooDeep "the blower cannot press air this deep: water would climb the air line",
    StiffBlower "this blower's air hardly depends on its pressure: without a bleed, closing one valve pushes its air through the others and independent targets cannot be met",
    AirTooShort "blower or valves cannot give all lifts the air for their targets at once: lifts of low priority will get less",
    NoRoomForPoints "there is no room left for these measured points: leave out those that lie nearly on the line between their neighbours, here or in other tables; tables that are alike share their room",
    BlowerStarved "all targets together take less air than the blower must pass: fit a bleed valve",
}

impl core::fmt::Display for Why {
    fn fmt(&self, f: &mut core::fmt::Formatter<'_>) -> core::fmt::Result {
        f.write_str(self.text())
    }
}
