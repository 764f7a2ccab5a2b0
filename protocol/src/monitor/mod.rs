//! Service 06 monitor results: identifiers, units and scalings, misfire counters.
