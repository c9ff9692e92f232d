"""Words people use, as tables: synonyms, small words, and phrases for substances, facts, waters and conditions.

What people call items and parts stands beside them in the catalogue.
"""

from store.vocabulary import Condition, Elastomer, Motion, OpenedBy, Substance, Task, Water, ZipMaterial

SYNONYMS: dict[str, str] = {
    "tank": "cylinder",
    "bottle": "cylinder",
    "cyl": "cylinder",
    "flask": "cylinder",
    "zipper": "zip",
    "reg": "regulator",
    "regs": "regulator",
    "regulators": "regulator",
    "torch": "light",
    "flashlight": "light",
    "lamp": "light",
    "dpv": "scooter",
    "can": "can",
    "suit": "suit",
    "ring": "oring",
    "gasket": "seal",
    "wings": "wing",
    "bcd": "bcd",
    "cuffs": "cuff",
    "aluminum": "aluminium",
    "alu": "aluminium",
    "ali": "aluminium",
    "o2": "oxygen",
    "inside": "inside",
    "internal": "internals",
    "innards": "internals",
    "guts": "internals",
    "spindle": "stem",
    "tooth": "teeth",
    "tap": "valve",
    "bov": "bov",
    "breathing": "breathing",
    "sensors": "sensor",
    "knobs": "knob",
    "thighs": "thigh",
    "screw": "screws",
    "lube": "lubricant",
    "lite": "light",
    "collar": "neck",
    "wrists": "wrist",
    "hp": "hp",
    "yolk": "yoke",
    "stage1": "firststage",
    "offen": "often",
    "nife": "knife",
    "vinager": "vinegar",
    "iso": "isolator",
    "holdall": "bag",
    "rucksack": "bag",
    "backpack": "bag",
    "suitcase": "bag",
    "luggage": "bag",
    "crate": "bag",
    "seel": "seal",
    "outter": "outer",
    "center": "centre",
    "fibre": "fiber",
}
"""One word for each of its synonyms, after the plural has gone."""

SMALL_WORDS = frozenset(
    """a an the my our your his her their its it this that these those is are was were be been am of on onto to into in
at for from with and or but so do does did done i we you he she they me us him them what which who how when
where why can could should would may might must shall will put puts putting goes go going gets get use uses used
using need needs needed some any much often really just please hi hello hey thanks there here about also too
very if then than as by up off out over one bit little kind sort thing stuff something anything someone student
students asks ask asking said says ok okay safe allowed fine good best right wrong correct recommend recommended
proper properly every each time times have has had having new old own want wants like know tell whether ever
always never not no dont don't doesn't isn't im i'm ive i've whats what's wheres hows that's""".split()
)

UNITS = frozenset(
    "min mins hrs graden grad litre litres metre metres meter meters deg degs fahrenheit celsius msw fsw".split()
)
"""Units, which no word list knows."""

WORTH_MENDING = frozenset(
    """often monday tuesday wednesday thursday friday saturday sunday dive dived dives diving manual maker nothing something instead recommend brushing disinfect yesterday today service between under
minutes flooded dropped leaked leaking cracked dented drained stamped manufactured assessment assessed flood floods leak leaks hissing bubbles failed condemned sold retired snooze remind reminder packing holiday holidays hydro visual cancel cancelled calendar""".split()
)
"""Words outside the tables that a reading hinges on, so that they too are mended when misspelt."""

TELLING = frozenset(
    """neck din yoke swivel outlet manifold barrel crossbar isolator docking hull lid loop head poppet piston spool
solenoid cell sensor sorbent scrubber wrist cuff button shaft under between clamp port stem knob
handwheel spindle mouthpiece dsv bov tpiece counterlung quickconnect inflator dump exhaust inflation outer inner
fine coarse battery thread turret strobe ball dome glove canister twist latch contact propeller mushroom
flapper oneway adv mav webbing bladder skirt lens elbow clamped cam""".split()
)
"""Words that name a part by themselves; where one occurs, phrases without any are only its surroundings."""

SUBSTANCES: tuple[tuple[str, Substance], ...] = tuple(
    (phrase, substance)
    for substance, phrases in {
        Substance.PFPE_GREASE: (
            "pfpe grease;pfpe;pfpe lubricant;pfpe lube;oxygen grease;oxygen compatible grease;oxygen compatible lubricant;oxygen safe grease;oxygen compatible lube;"
            "oxygen lubricant;fluorinated grease;fluorinated lubricant;perfluorinated grease;perfluoropolyether grease;perfluoropolyether;hydrocarbon free grease;"
            "oxygen service grease;halocarbon grease;oxygen clean grease;oxygen rated grease;oxygen approved grease;oxygen friendly grease"
        ),
        Substance.PFPE_OIL: "pfpe oil;oxygen compatible oil;oxygen oil;fluorinated oil;perfluorinated oil;oxygen safe oil;perfluoropolyether oil",
        Substance.SILICONE_GREASE: (
            "silicone grease;silicone lubricant;silicone lube;silicone paste;silicone gel;silicone;silicone oil;silicon grease;silicon;silicone based grease;"
            "silicone based lubricant;food grade silicone;pure silicone grease;dielectric grease;silicon lubricant;silicone compound"
        ),
        Substance.SILICONE_SPRAY: "silicone spray;spray silicone;silicon spray;silicone spray lubricant;silicone aerosol;spray can silicone",
        Substance.PETROLEUM_JELLY: "petroleum jelly;petrol jelly;petrolatum;petrolium jelly;jelly;mineral jelly",
        Substance.ZIP_STICK: "zip stick;zip lubricant stick;soft stick;zip wax stick;zip lube stick;stick lubricant;zip lubricant;zip lube;zip grease;lubricant stick;soft zip stick;zip balm;lube stick",
        Substance.ZIP_LIQUID: "zip liquid;liquid zip lubricant;fine liquid;liquid zip lube;fine liquid zip lubricant;liquid lubricant;fine zip liquid;zip oil;zip fluid",
        Substance.BEESWAX: "beeswax;bees wax;bee wax;wax;zip wax;natural wax;wax block;wax stick",
        Substance.PARAFFIN_WAX: "paraffin wax;paraffin;candle wax;candle;candle stub;tea light;tealight;ski wax;surf wax",
        Substance.TALC: "talc;talcum;talcum powder;baby powder;powder;talc powder;french chalk;unscented talc;chalk;body powder",
        Substance.SUIT_LUBRICANT: "suit lubricant;suit lube;water based lubricant;water based lube;water based suit lubricant;wetsuit lubricant;wetsuit lube;donning lubricant;water based gel;water based slip;water based",
        Substance.SOAPY_WATER: "soapy water;soap;soap water;dish soap;washing up liquid;washing liquid;detergent;shampoo;conditioner;hair conditioner;dishwashing liquid;mild soap;soap and water;dish liquid;mild detergent;baby shampoo",
        Substance.BABY_OIL: "baby oil",
        Substance.MINERAL_OIL: "mineral oil;oil;engine oil;motor oil;machine oil;gun oil;sewing machine oil;bike oil;chain oil;compressor oil;lubricating oil;gear oil;hydrocarbon oil;hydrocarbon;household oil;petroleum oil",
        Substance.PENETRATING_OIL: "penetrating oil;penetrating spray;penetrant;rust remover spray;rust penetrant;penetrating fluid;penetrating lubricant;water displacing spray;multi purpose spray;multi purpose oil;spray oil",
        Substance.COOKING_OIL: "cooking oil;olive oil;vegetable oil;sunflower oil;coconut oil;cooking fat;lard;butter;rapeseed oil;canola oil;margarine;cooking spray;kitchen oil;salad oil;fat;grape seed oil;tallow",
        Substance.SUNSCREEN: "sunscreen;sun screen;sun cream;suncream;sun lotion;sunblock;sun block;suntan lotion;sun tan lotion;suntan oil;sun oil",
        Substance.FRESH_WATER: "fresh water;sweet water;tap water;plain water;freshwater;clean water;just water;water",
        Substance.WHITE_VINEGAR: "white vinegar;vinegar;acetic acid",
        Substance.DISINFECTANT: "disinfectant;sanitiser;sanitizer;steriliser;sterilizer;sterilising fluid;steriliser tablets;bleach;mouthwash;mouth wash;disinfecting solution",
        Substance.LITHIUM_GREASE: "lithium grease;car grease;bearing grease;axle grease;marine grease;automotive grease;wheel bearing grease;white lithium grease;mineral grease;hydrocarbon grease;petroleum grease;petroleum based grease;multi purpose grease;copper grease;anti seize;plumber grease;boat grease;trailer grease;bike grease;chain grease;winch grease;hardware grease;multipurpose grease;multi-purpose grease;plumbers grease;petroleum based lubricant;petroleum product;petroleum",
        Substance.GRAPHITE: "graphite;pencil;graphite powder;pencil lead;pencil graphite",
        Substance.SOLVENT: "solvent;acetone;white spirit;petrol;gasoline;thinner;brake cleaner;rubbing alcohol;alcohol;contact cleaner;paint thinner;mineral spirits;turpentine;isopropyl alcohol;isopropanol;ethanol;methylated spirit;lighter fluid",
        Substance.TOOTHPASTE: "toothpaste;tooth paste",
        Substance.HAND_CREAM: "hand cream;hand lotion;lotion;moisturiser;moisturizer;body lotion;skin cream;lip balm;skin lotion;cold cream;body butter;face cream;barrier cream",
    }.items()
    for phrase in phrases.split(";")
)

VAGUE = frozenset(
    {
        "grease",
        "lubricant",
        "lubrication",
        "lubricate",
        "greasing",
        "greased",
        "lubed",
        "lubricated",
        "lubricating",
    }
)
"""Words for a lubricant that name no class."""

Fact = tuple[str, object]
FACTS: tuple[tuple[str, Fact], ...] = tuple(
    (phrase, (name, value))
    for (name, value), phrases in {
        ("elastomer", Elastomer.EPDM): "epdm;epdm rubber;ethylene propylene",
        ("elastomer", Elastomer.NBR): "nbr;nitrile;nitrile rubber",
        ("elastomer", Elastomer.HNBR): "hnbr",
        ("elastomer", Elastomer.FKM): "fkm;fpm;fluoroelastomer;fluorocarbon rubber;fluoro rubber",
        ("elastomer", Elastomer.FVMQ): "fvmq;fluorosilicone",
        ("elastomer", Elastomer.IIR): "iir;butyl;butyl rubber",
        ("elastomer", Elastomer.PU): "polyurethane;urethane",
        ("elastomer", Elastomer.NR): "latex;natural rubber;latex seal;latex neck seal;latex wrist seal",
        (
            "elastomer",
            Elastomer.CR,
        ): "neoprene seal;neoprene neck seal;neoprene wrist seal;neoprene neck;neoprene wrist;neoprene cuff;neoprene;chloroprene",
        ("elastomer", Elastomer.VMQ): (
            "silicone seal;silicone neck seal;silicone wrist seal;silicone neck;silicone wrist;silicone cuff;silicone rubber;silicone oring;vmq;silicone ring;"
            "silicone neck wrist seal;silicone suit seal;silicon seal;silicon neck seal;silicon wrist seal;seal silicone;silicone drysuit seal;silicone gasket;made silicone;seal are silicone;seal is silicone;cuff are silicone;neck is silicone;seal are all silicone;silicone skirt;silicone pad;silicone mouthpiece;silicone strap;silicone hose"
        ),
        (
            "zip_material",
            ZipMaterial.PLASTIC,
        ): "plastic zip;plastic;plastic teeth;plastic toothed;plastic tooth;plastic drysuit zip;polymer zip",
        (
            "zip_material",
            ZipMaterial.METAL,
        ): "metal zip;metal;brass zip;bronze zip;metal teeth;metal toothed;metal tooth;brass;bronze;metallic;metal drysuit zip",
        (
            "motion",
            Motion.STATIC,
        ): "static;stay still;stays still;sits still;stationary;stays put;clamped;fixed;pressed latch;just pressed;just sits;bolted down;immobile;clamped shut",
        (
            "motion",
            Motion.DYNAMIC,
        ): "dynamic;moves;moving;move;turn;turns;turning;rotates;rotate;rotating;slides;slide;sliding;spins;spin;spinning;twists;twist;twisting;swivels;swivelling;reciprocating",
        ("gas", False): "water side only;only water;sees only water;only touches water",
        (
            "gas",
            True,
        ): "breathing gas;touch gas;touches gas;sees gas;in gas;gas side;oxygen side;breathed gas;high pressure air;breathing air;touch oxygen;touches oxygen;sees oxygen;oxygen service;oxygen clean;oxygen cleaned;my air;rich gas;pure oxygen;i breathe;gas touches;breathing side",
        (
            "pure_oxygen_fill",
            True,
        ): "partial pressure blended;partial pressure;partial pressure filled;blended oxygen;pp blended;pp filled;oxygen first;partial pressure fill;pp blend;partial pressure blend",
        ("bonded", True): "glued;bonded;near glue;next glue;glued area;bonded area",
        (
            "uncleaned",
            True,
        ): "without brushing;without cleaning;over old;on top old;over the old;on top of the old;another layer;top up;without brushing it;without cleaning it;on top of old;over old wax;second layer;fresh layer over",
        ("watertight", True): "waterproof zip;watertight zip",
        ("opened_by", OpenedBy.DIVER): "can reach;user serviceable",
    }.items()
    for phrase in phrases.split(";")
)

WATERS: tuple[tuple[str, Water], ...] = tuple(
    (phrase, water)
    for water, phrases in {
        Water.SALT: "salt;salt water;saltwater;sea;seawater;sea water;ocean;salty;red sea;marine;reef;salt dive;north sea;the med;baltic sea;atlantic;pacific;fjord",
        Water.FRESH: "fresh;fresh water;freshwater;lake;quarry;lac;lago;dulce;agua dulce;lough;river;reservoir;spring;cenote;pond;mine;loch;sweet water;flooded mine;gravel pit;sump;tarn",
        Water.BRACKISH: "brackish;estuary;brackish water;lagoon;river mouth;baltic",
        Water.POOL: "pool;swimming pool;pool session;confined water;dive tank pool;indoor pool",
    }.items()
    for phrase in phrases.split(";")
)

CONDITIONS: tuple[tuple[str, Condition], ...] = tuple(
    (phrase, condition)
    for condition, phrases in {
        Condition.SAND: "sand;sandy;beach entry;shore entry beach;sandstorm;sand everywhere",
        Condition.SILT: "silt;silty;silted;mud;muddy;silt out;siltout;mucky",
        Condition.ICE: "ice;icy;ice dive;ice diving;under ice;frozen;ice hole;slush",
        Condition.POLLUTED: "polluted;pollution;sewage;dirty water;contaminated water;filthy;dirty harbour;dirty harbor;foul water;run off;runoff;after heavy rain;sewer;contaminated;polluted water;minging",
        Condition.CHLORINE: "chlorine;chlorinated;chlorine pool",
        Condition.OIL: "oil;oily;oil slick;fuel;diesel;oil film;oil water;fuel on water;diesel slick;petrol slick;oily water;bilge",
        Condition.SURF: "surf;surf entry;waves;big waves;breakers;surf zone",
    }.items()
    for phrase in phrases.split(";")
)

TASKS: tuple[tuple[str, Task], ...] = tuple(
    (phrase, task)
    for task, phrases in {
        Task.CLEAN: "cleaned;brushed;scrubbed;washed;wiped;descaled;clean;brush;wash;scrub;wipe;cleaning;degreased",
        Task.LUBRICATE: "greased;lubed;lubricated;waxed;oiled;filmed;sprayed;regreased;relubed;lubricate;grease;lube;wax;rewaxed;relubricated;silicone sprayed;re greased;re waxed;re lubed;greasing",
        Task.POWDER: "powdered;talced;talcummed;talc'd;talcd;dusted;chalked;talcumed;talcked;powder;talc;repowdered;re powdered",
        Task.INSPECT: "inspected;checked;looked;visual;vip;visual inspection;inspection;inspect;eddy;visualed;vip'd;vipped;viz inspection;vis inspection",
        Task.SERVICE: "serviced;service;rebuilt;overhauled;overhaul;servicing;rebuild;annual service;back service;back from service",
        Task.TEST: "tested;hydro;hydro'd;hydroed;hydrostatic;hydrotest;pressure tested;pressure test;tuv test;tuv;tüv;hydro tested;hydro test;hydrostatic test;flow tested;leak tested;test;gauge check;depth check;depth checked",
        Task.REPLACE: "replaced;changed;swapped;fitted new;new seal fitted;replace;renewed;fresh sorbent;repacked;refilled scrubber;packed scrubber;packed;installed new;put new;swapped out",
        Task.RINSE: "rinsed;hosed;soaked;rinse;hosed down;dunked;flushed;rinsing",
        Task.DRY: "dried;hung;dry;hung up;drying;hung dry;air dried",
        Task.DISINFECT: "disinfected;sanitised;sanitized;sterilised;sterilized;disinfect;sterilise",
        Task.CALIBRATE: "calibrated;calibration;calibrate;recalibrated",
    }.items()
    for phrase in phrases.split(";")
)

PAST_TASKS = frozenset(
    """cleaned brushed scrubbed washed wiped descaled greased lubed lubricated waxed oiled filmed sprayed regreased
relubed rewaxed relubricated powdered talced talcummed talc'd talcd dusted chalked talcumed talcked inspected
checked serviced rebuilt overhauled tested hydro'd hydroed replaced changed swapped renewed repacked refilled
rinsed hosed soaked dunked flushed dried hung disinfected sanitised sanitized sterilised sterilized calibrated
packed repowdered fitted installed visualed vip'd vipped recalibrated degreased""".split()
)

NUMBERS = {
    "one": 1, "a": 1, "an": 1, "two": 2, "three": 3, "four": 4, "five": 5, "six": 6, "seven": 7, "eight": 8, "nine": 9,
    "ten": 10, "eleven": 11, "twelve": 12, "couple": 2, "pair": 2, "dozen": 12, "both": 2, "another": 1, "twice": 2, "once": 1,
}  # fmt: skip
