"""The cautions that stand beside all cleaning advice, on screen and in every file."""

# Sources, read in November 2026. UK HSE, "Vehicle exhaust emissions" (carcinogens, extraction); UK HSE,
# "Cleaning/degreasing substances including valeting" (solvents); UK HSE, introduction to motor vehicle
# repair (crushing under raised vehicles); a waste-industry notice of 2021 on fires during filter burn-off
# (regeneration); safety bulletins on injection injuries (fuel pressure); UK Road Vehicles (Construction and
# Use) Regulations 1986, reg. 61A(3), as quoted on public pages (altered emission systems); California Air
# Resources Board, as cited in the trade press (ash). All else is common practice, no source.
CAUTIONS: tuple[str, ...] = (
    "Follow the vehicle maker's instructions, local rules and the judgement of a licensed technician "
    "first: this advice rests on this fleet's past jobs and may not fit the vehicle in front of you.",
    "It never replaces or postpones a safety inspection or the repair of a defect.",
    "Hot parts: exhaust, EGR and particulate filter stay hot long after the engine stops. Regenerate "
    "outside or under extraction, clear of anything that burns, and stay with the vehicle.",
    "Exhaust and soot: diesel exhaust causes cancer. Extract at the tailpipe; wear gloves, eye "
    "protection and a suitable mask; take deposits up with a filtered vacuum and never blow them into "
    "the air.",
    "Filter ash may count as hazardous waste: seal it in a container and use a licensed disposer.",
    "Solvents: take the least harmful one, in closed equipment, with ventilation, gloves and eye "
    "protection. Spray nothing into a running or hot intake unless the makers of spray and engine allow "
    "it.",
    "Fuel pressure: wait, and check that the pressure is down, before you open the system. Never feel "
    "for a leak. Fuel injected under the skin means hospital at once, however small the wound looks.",
    "Raised vehicles: chock the wheels, brake, and stand the vehicle on axle stands or locked lift arms "
    "before anyone goes underneath.",
    "Rotating parts: keys out, and battery off where the procedure says so. Fans can start by themselves.",
    "Coolant scalds while it is under pressure. Replace a cooler that leaks; don't clean it.",
    "Glow plugs and injectors seize in carbon, and one that breaks off costs more than the job.",
    "Never remove, blank off or map out an emission control. In Great Britain and elsewhere it is an "
    "offence to use a vehicle altered in that way.",
    "Afterwards: new gaskets, the maker's torques, relearn, read the codes again after the road test, "
    "and record the cleaning as a cleaning.",
)
