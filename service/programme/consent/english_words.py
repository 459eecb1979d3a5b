"""Words by which English is known: common ones in their plain forms, and those of the subject. Data.

Not a dictionary: a sentence may hold some words that are not here. What must not be here are words of other languages.
"""

from __future__ import annotations

#: Plain forms; endings are told apart by `english`.
_WORDS = """
a abbey aberration aboard about above absolute absolutely accept accident accidentally account across act actual
actually adapter adaptor add address adjust adjusted advice advise aeroplane affinity afocal afraid after afternoon
again against age agent ago agree ah ahead aim air aircraft airplane alarm album alert alike alive all allotment allow
almost alone along alpine already alright also although altitude always am amateur amaze amazing amid among amount an
ancestor ancient and angle angry animal anniversary announce another answer antenna anticipate any anybody anyhow
anyone anything anyway anywhere apart apartment aperture apologies apologise apologize app apparent appear appearance
apple appreciate approach approximately apps april arc arch are area aren't argue arm armchair army around arrange
arrive arrow art article artificial artist as ask asleep aspect assist assume astonish astro astronomer astronomers
astronomical astronomy astrophotographer astrophotography astrophotos at atmosphere atmospheric attach attachment
attempt attention attract audience august aunt auntie aunty author auto autofocus autoguider automatic automatically
autostakkert autumn available avenue average avoid awake award aware away awesome awful axis baby back backlit
backpack backyard bacon bad badge badger bag bake balance balcony ball band bank bar bare barely barlow barn base
basic basin basket bat bath bathroom bats battery bay be beach beam bean bear beard beat beautiful beautifully beauty
beaver became because become bed bedroom been beer beetle before beg began begin beginner beginning begun behind being
belief believe bell belong belongs below bench bend beneath berry beside besides best bet beta better between beyond
bicycle big bike bill bin bino binocular binoculars binoviewer bins bird birthday biscuits bit bitter black blacks
blank blanket blend bless blessing blind blinked block bloke blood blossom blow blown blue blur blurry board boat body
boiling bold bolt bone bonfire bonus book boost boots border bore bored born borrow bortle both bother bottom bought
boulder boulders bounce bowl box boy bracket brain branch brand brass brave bravo bread break breakfast breath breathe
breeze brew brick bridge brief briefly bright brightest brightly brightness brilliant bring broad broadcast broke
broken bronze brother brought brown brush bst bubble bucket bud bug build building built bulb bull bump bunch bundle
burn burned burnt burst bus bush business busy but butter butterfly button buy by bye cabin cable cafe cake calculate
calendar calibrate call calm calmly camcorder came camera cameras camp campsite can can't canal candle cannot canon
canvas cap capable cape capital caption capture car carbon card cardboard care careful carefully carpark carpet carry
cart case cast castle cat catalogue catch cathedral cattle caught cause caution cave ceiling celebrate celestial cell
cellar center central centre century ceres certain certainly chain chair chalk challenge champion chance change
channel chapel chapter character charge charm chase chasing chat cheap check cheek cheer cheers cheese chemical chest
chicken chief child children chill chilly chimney chip chocolate choice choose chop chord chose christmas chromatic
chuffed church cinema circle citizen city cityscape civil claim clamp clap class clay clean clear cleared clearing
clearly clever click client cliff climate climb clip clipping clock close closely closer closet closeup cloth cloud
clouded cloudless cloudy club clubhouse clue clumsy cluster cm coal coast coat code coffee coin cold collapse collar
colleague collect college collimate collimated collimation color colour colourful column comb combine come comet
comfortable command comment commit common community commute commuting compact company compare comparison compass
compete competition complain complete completely complex compose comprise computer concentrate concept concern concert
conclude concrete condition conditions confident confirm confuse confusion congrats congratulations connect consent
consider constant construct consult contact contain content contest continue contour contrail contrails contrary
contrast contrasty contribute control convince cook cool copper copy core corner correct correction cost cosy cottage
cotton could couldn't council count counter country countryside couple courage course courtyard cousin cover cow crack
craft crags crane crash crater crater's craterlet craterlets craters crazy cream create creative credit creep crescent
crew crisp criticism crop cross crow crowd crown crucial cry crystal cube cup cupboard cuppa cure curious curl current
curtain curve curves cushion custom customer cut cycle dad dad's daily daisy dam damage damp dance danger dare dark
darkness darktable darling date daughter dawn day daylight daylit daytime dazzling dead deadline deal dear death
decade december decent decide deck deckchair decorate dedicated deep deeply deer default defeat defect defend define
definitely degree delay delete delicate delight delighted deliver demand denied dental depart department depend
deposit depression depth derive describe desert deserted deserve design desire desk despite destroy detail detailed
detect determine develop developed device devil dew dewy diagonal diagram diameter diamond diary dictionary did didn't
die diet difference different difficult dig digicam digital dim dimension dinner dinner's dip direct direction
directly dirty disappear disappoint disappointing disaster disc discount discover discovery discuss dish disk dismiss
display dispute distance distant distinct distinguish district disturb dive divide do dob dobson dobsonian doctor
document does doesn't dog dome dominate don't donate done donkey door dose dot double doublet doubt down download
dozen dr draft drag drain drama draw drawer dream dreamy dress drew drift drink drive driveway driving drizzle drop
drum dry dslr duck due dull during dusk dust dusty duty dye dynamic each eager eagle ear earlier early earth
earthlight earthshine ease easily east eastern eastwards easy eat echo eclipse eclipsed ecliptic economy edge edit
edited edition editor educate education effect effort effortless egg eight eighteen eighteenth eighth eighty either
ejecta elbow elder elderly elect electric electronic element elephant elevation eleven eleventh else elsewhere email
embarrassed emerge emotion emphasis employ employer empty enable encounter encourage encouraging end endless enemy
energy engine engineer english enhance enjoy enlarge enormous enough ensure enter entertain enthusiast enthusiastic
entire entirely entrance entry envelope environment equal equator equipment era error escape especially essay
essential establish estate estimate even evening event eventually ever every everybody everyone everything everywhere
evidence evil exact exactly exam examine example exceed excellent except exchange excited excitement exciting exclude
excuse exercise exhaust exhibit exhibition exif exist exit expand expect expensive experience experiment expert
explain explanation explore explorer expose exposure exposures express extend extent external extra extract extreme
extremely eye eyebrow eyepiece eyepieces eyes eyesight fabulous face fact factor factory fade fail faint fair fairly
fairy faith fall false family famous fan fancy fantastic far farm farmer farmhouse farside fascinate fascinated
fascinating fashion fast fat father fault favor favorite favour favourite fear feast feather feature february feed
feedback feel feeling feet fell fellow felt fence ferry fetch fever few fewer fibre fiction fiddly field fifteen
fifteenth fifth fifty fight figure file fill film filming filter final finally find finder fine finger finish fire
firecapture firewood fireworks firmware first fish fit five fix fjord flag flame flap flare flash flashlight flask
flat flattened flavour fleet flesh flew flick flight float flock flood floor flour flow flower fluid fly focal focus
focused focuser focussed fog fogged foggy fold folk folks folks'll follow following food fool foot football for force
forecast foreground forehead forest forever forget forgetful forgive forgot forgotten fork form formal formation
former forth fortnight fortunate fortunately fortune forty forum forward found fountain four fourteen fourth fox fps
fraction fragile frame framed free freedom freeze freezer freezing frequency frequent fresh friday fridge friend
friendly fringe fringing frog from front frost frosty frozen fruit frustrate frustrating fuel full fullmoon fully fun
function fund funny furniture further fuss future fuzzy gain galaxy galilean gallery game gamma gang gap garage garden
garden's gas gate gather gave gaze gazing gear gem gene general generally generous genius gentle gentleman gently
genuine geologist geology get ghost giant gibbous gift gimp girl give given glad gladly glare glass glen glide glimpse
glimpsed globe glorious glove gloves glow glue gmt go goal goat gold golden golf gone good goodbye goose gorgeous
gorillapod got goto gotten govern gps grab grade grain grainy grammar grand grandad granddad granddaughter grandfather
grandkids grandma grandmother grandpa grandpa's grandparent grandparents grandson graph grass grateful gratitude grave
gravity gray great greatly greedy green greenhouse greet greeting greetings grew grey grid grin grinning grip grocery
ground group grow grown guarantee guard guess guest guide guiding guilty guitar gulf gull gust guy ha had hadn't hail
hair hairdryer half halfway hall halloween halo halt hammer hammock hand handheld handle handphone handset handshake
handy hang happen happily happy harbor harbour hard hardly harm harsh harvest has hasn't hat hate have haven't hawk
haze hazelnut hazy hd he head headache headland headlands headlights headline heal heap hear heard heart heat heater
heaven heavens heavy hedge hedgehog heel heic height helicopter hello help hence her herd here hero hers herself
hesitate hesitation hey hi hid hidden hide high higher highest highlands highlight highly highway hike hill him
himself hint hire his histogram historic history hit hobby hobbyist hold holder hole holiday home homemade honest
honestly honor honour hoodie hook hop hope hopefully horizon horn horrible horse hospital host hot hotel hour house
household hover how however hug huge hull human humble humid hundred hung hunger hunt hurricane hurried hurry hurt
husband hut i ice icy idea ideal identical identify if ignore ill illuminate illumination illusion image imager
imagination imagine imaging img immediately immense impact impatient imply import important impossible impress
impressive improve improvement improving improvised in inch incident incline include increase incredible incredibly
indeed independent index indicate individual indoors industry inform information infrared ingredient initial injury
inner innocent input insect insert inside inspect inspiration inspire inspiring insta install instance instant instead
institute instruction instrument insurance intend intense intention interactive interest interested interesting
interior internet interpret interrupt interval interview into introduce invent invest investigate invisible invite ios
ipad iphone iron irregular is island isn isn't iso issue it its itself jacket january jar jaw jealous jet jetstream
jewel job join joke journal journey joy joyful jpeg jpg judge juice july jump june jungle junior jury just justify
keen keep kept kettle key keyboard kick kid kids kilometer kilometers kilometre kind kindly kindness king kingfisher
kiss kit kitchen kite kitten km knee knew knock know knowledge known lab label labour lack lad ladder lads lady lake
lamp land landscape lane language laptop large largely last lasted late lately later latest latitude laugh lava law
lawn lawnmower lay layer lazy lead leaf league learn least leather leave leaves lecture left leg legal legendary lemon
lend length lens lenses less lesson let letter lettuce level levels liberty library libration lick lid lie life
lifelong lifetime lift light lighthouse lightroom like likely limb limestone limit line link lion lip liquid list
listen listener lit literally litter little live lively living load loan lobby local location loch loft logic lonely
long longer longitude look loop loose lord lorry lose loss lost lot lots loud lough lounge love loved lovely lover low
lower loyal luck luckily lucky luminosity lump lunar lunch lung luxury machine mad made magazine magic magical
magnification magnificent magnified magnify maid mail main mainland mainly major mak make maksutov man manage mankind
manner mantle manual many map maple marble march mare margin maria marine mark market married marry marvel marvellous
marvelous mask masks mass massive master match mate mates matter maximum may maybe mb me meadow meal mean meant
meanwhile measure mechanic medal medical medium meet meeting megapixel melt member memory men mental mention mercy
merge merged meridian merit merry mesmerising mess message met metal meteor meter method metre microscope midday
middle midges midnight might migrate mild mile military milk mill millimeter millimetre million mind mine mineral
minimal minister minor minus minute mirror mirrored mirrorless misaligned miss missed mission mist mistake misted
misty mix mixture mm mobile mode modern moist mom moment monday money monitor monk monochrome monopod monopods monster
month monument mood moody moon moonlight moonlit moonrise moons moonset moor moorland moors moral more morning mosaic
mosquito mosquitoes most mostly moth mother motion mount mountain mounted mouth move movement movie mr mrs ms much mud
mug multiple mum mum's muscle mushroom music must mustn't my myself mystery myth nail naked name nan napkin narrow
nasty national natural nature naval navy nd near nearby nearly nearside neat nebula necessary neck need negative
neglect neighbor neighbour neighbour's neighbourhood neither nephew nervous nest net never nevertheless new newbie
newcomer news newspaper newton newtonian next nice nicely niece night nightfall nightly nightscape nightshift nikon
nine nineteen ninety ninth no nobody nod noise noisy none nonetheless nonsense noon nor normal normally north northern
nose not note nothing notice november novice now nowhere number numerous nurse nut o'clock oak oats obey object
objective observation observatory observe observer obtain obvious obviously occasion occasionally occultation occupy
occur ocean october odd of off offer office offset often oh oil ok okay old older olive omit on once one ones oneself
onion only onto open opera operate opinion opportunity opposite optic optical optics optolong or orange orbit orchard
order ordinary orientation origin original originally other others otherwise ought our ours ourselves out outcome
outdoors outer outline output outside outstanding outward oven over overall overcast overexpose overexposed overhead
overnight oversharpened owl owls own owner oxygen pace pack page paid pain paint painting pair pal palace pale palm
pals panel panic panorama paper parade paragraph parallel parcel pardon parent parfocal park parking part partial
particular particularly partly partner party pass passage passenger passion passionate passport past pasture patch
patchy path patience patient patio patrol pattern pause pavement pay peace peaceful peak peanut pear pearl peasant
pebble peculiar pedal peeked peeking peel pen pencil penny pensioner pentax people pepper per percent perfect
perfection perfectly perhaps period permanent permission permit persistence person personal personally persuade phase
phenomenal phenomenon phone phoneholder photo photograph photographer photographic photography photos photoshop
physical physics piano pic pic's pick pics picture pie piece pier pig pile pill pillow pilot pin pinch pine pink pipe
pipp pit pitch pity pixel pixels place placed plain plan plane planet planetarium planetary planets plant plaster
plastic plate play playing please pleased pleasure plenty plossl plot plough plug plumber plunge plus pm pocket poem
poet poetry point poison polar polaroid pole police polish polished polite politics pollution pond pool poor pop
popular population porch port portrait pose position possess possible possibly post postcard posterised postman pot
potato potential potentially pound pour powder power practice practise praise pray precious precise prediction prefer
preparation prepare presence present presenter president press pretty prevent previous previously price pride priest
prime prince principle print prior prison private privilege prize pro probably problem process processed processing
processor produce profession professor profile profit program programme progress project projection promise
promontorium promote pronounce proof proper properly property proportion protect protest proud proudly prove proverb
province ps pub public publication publicity publicly publish pull punch pupil pure purple purpose purse pursue push
put puzzle px qualify quality quantity quarrel quarter quay queen quest question queue quick quickly quiet quietly
quite quiz quote rabbit race rack radio radius rail railway rain rainbow rained raining rainstorm rainy raise ran
random range rapid rapidly rare rarely raspberry rate rather ratio raw ray rays rd reach react read reader ready real
realise realize really rear reason reasonable recall receive recent recently recipe recognise recognize recommend
record recording recover rectangle recycle red reduce refer reflection reflector refraction refractor refuse regard
regards region registax register regolith regret regular regularly rehearse reject relate relative relax release
relevant relief rely remain remark remarkable remember remind remote remove rent repair repeat replace reply report
represent request require rescue reserve reservoir resist resolution resort resource respect rest restaurant restore
restrict result retain retire retired return reveal reverse review revise reward rhythm ribbon rice rich rid ride
ridge ridges right rille rilles rim ring ripple rise risen rising risk ritual rival river road roast robin robot rock
rocket role roll roof roofs rooftop rookie room root rope rose rotate rotated rough round route routine row royal rub
rubber rubberband rubbish rug ruin rule run rural rush sack sad safe said sail sailing saint salad salt same samsung
sand sandwich sat satellite satellites satisfy saturation saturday sauce save saw say scale scan scared scarf scatter
scene scenery scent schedule scheme school science scope scopes score scrap scratch scream screen script sct sculpture
sea seal search seas seaside season seat secateurs second secret section see seed seeing seem seen segment seize
select self selfie sell send sender senior sensational sense sensor sent sentence separate september sequence series
serious session set setting settle setup seven seventeen seventh seventy several severe sew shade shadow shake shaking
shaky shall shallow shame shape share sharp sharpcap sharpen sharpness she shed sheep sheer sheet shelf shell shelter
shield shift shine shiny ship shirt shivering shock shoe shone shoot shop shopkeeper shore short shortly shot shots
should shoulder shouldn't shout show shower shown shrug shut shutter shy sick side sidereal sigh sight sign signal
significant silence silent silhouette silk silly silver similar simple simply since sing single singleshot sink sir
siril sister sit site situation six sixteen sixteenth sixth sixty size sketch skies skill skin skip sky skyline
skywards skywatcher slab sleep sleeping sleepy slept slide slight slightly slip slippers slope slow slowly small smart
smartphone smartphones smear smell smile smoke smooth smudge snack snake snap snapped snapping snapshot sneak snow
snowy so soap soar social society socks sofa soft software soil solar sold soldier solid solution solve some somebody
somehow someone something sometime sometimes somewhat somewhere son song sony soon sooner sophisticated sorry sort
soul sound soup sour source south southern space spare spark sparkle speak special specially species specific
spectacle spectacular speed spell spend spent spherical spider spill spin spiral spirit spite splash splendid split
spoil spoke spontaneous spoon sport spot spotting spray spread spring square st stable stack stacked stacking stage
stair staircase stamp stand star stare stargazer stargazing starry start state statement station statue stay steadily
steady steal steam steamed steel steep stellar stem step stick stiff still stir stitch stomach stone stood stop store
storm stormy story stove straight straightaway strain strange stranger strap straw stream street strength stretch
strike string strip stripe stroke stroll strong strongly struck structure stubborn stuck student studio study stuff
stunned stunning style subject substance suburb succeed success such sudden suddenly sufficient sugar suggest
suggestion suit suitable sum summer summit sun sunday sunlight sunlit sunny sunrise sunset sunshine sunspot sunup
super superb supermoon supper support suppose sure surely surf surface surprise surprised surprising surround
surroundings survey survive suspect swallow swamp swan swear sweep sweet swell swift swim swing swirl swirls switch
symbol sympathy system table tablet tail take taken tale talent talk tall tank tap tape target tariff task taste tax
taxi tea teach teacher team tear technical technique tele teleconverter telephoto telescope telescopes television tell
telly temperature temple temporary ten tenant tend tent tenth term terminator terrace terrible terrific territory
terror test text th than thank thankful thanks that the theatre their theirs them themselves then theory there
therefore thermal thermos these they thick thin thing things think third thirst thirteen thirty this thorough those
though thought thousand thread three threw thrill thrilled throat throne through throughout throw thumb thunder
thunderstorm thursday thus tick ticket tide tidy tie tiff tight tile till tilted timber time timer tin tint tiny tip
tired tissue title to toast tobacco today toe together toilet told tomato tomorrow ton tone tongue tonight tonight's
too took tool tooth top topic torch total touch tough tour tourist toward towards towel tower town toy track tracked
tracking tractor trade tradition traffic trail train tram translate transmit transparency transparent transport trap
travel tray treasure treat tree treetops tremendous trend triangle tribe trick tricky tried trim trip tripod tripods
triumph troop tropical trouble truck true truly trunk trust truth try tube tuesday tune tunnel turbulence turn tv
twelfth twelve twenty twice twilight twin twinkle twist two type typical typing tyre ugly uhd ultra ultramoon umbrella
unable unbelievable uncle under underexposed understand understood unedited unfortunate unfortunately unhappy unique
unit united universe university unless unlike unprocessed unsharp until untouched up upgrade upload upon upper upright
upset upside upsidedown upstairs upwards urban urge urgent us use used useful user usual usually utc utter vacation
vague valley value van vanish variation variety various vast vegetable vehicle venture veranda verse version vertical
very vessel via vibration victory video view viewer viewfinder viewpoint vignette vignetting village vine violet
visible visit visitor visual vital vivid vocabulary voice volume vote voyage wage waist wait waited waiter wake walk
walking wall wander wandering waning want war ward warm warmly warn warrant was wash wasn't waste watch water wave
wavelet wavelets wax waxing way we weak wealth weapon wear weather web webcam website wednesday weed week weekday
weekend weekly weep weight welcome well wellies went were weren't west western westwards wet whale what whatever wheat
wheel wheelie when whenever where whereas whereby wherever whether which while whip whisper whistle white whites who
whoever whole whom whose why wide wideangle widow width wife wild will willing win wind window windowsill windy wing
winter winter's wipe wire wise wish wishes wispy with within without witness wobble wobbly woke wolf woman women won't
wonder wondered wonderful wonderfully wood wooden woods wool woolly word wore work workplace workshop world worm worn
worried worry worse worst worth would wouldn't wound wow wrap wrinkle wrinkles wrist write writer written wrong wrote
xiaomi yard yeah year yellow yes yesterday yesterday's yet you young younger your yours yourself yourselves youth
zebra zenith zero zip zone zoom zoomed zwo
"""
WORDS = frozenset(_WORDS.split())

#: Proper names that such mails hold, in small letters: months and days are above.
_NAMES = """
aberdeen africa alpine alps america andromeda apennines apollo archimedes ariadaeus aristarchus aristillus aristoteles
armagh asia atlantic atlas australia austria autolycus bailly belfast belgium birmingham bristol britain british
bulgaria bullialdus cambridge canada cardiff cassini catena catharina celestron christmas clavius cleomedes
clerkenwell copernicus cork crisium cyrillus denmark derby devon donegal dorsa dorsum dover dublin dundee durham earth
easter edinburgh endymion england english eratosthenes eudoxus europe exeter fecunditatis finland fracastorius france
frigoris galway gassendi germany glasgow greece grimaldi hercules herodotus humorum hyginus ibrium imbrium india
ireland iridum irish italy janssen japan jupiter jura kent kepler kerry lacus langrenus leeds leicester limerick
lincoln linne liverpool london longomontanus lunae maginus manchester manilius mare mars maurolycus mayer
mediterranean menelaus mercury messier milky mons montes moretus moscoviense nectaris neptune netherlands newton
norfolk norway nottingham nubium orion oxford pacific palus petavius petzval piccolomini pitatus plato pleiades
plinius pluto poland portugal posidonius procellarum proclus ptolemaeus purbach pyrenees regulus rheita rima rimae
romania rupes saturn schickard schiller scotland scottish serbia serenitatis sheffield sinus sirius sligo spain
stadius stofler sussex sweden swindon switzerland theophilus tranquillitatis turkey tycho uk uranus usa vallis vaporum
vega vendelinus venus wales walther waterford welsh werner wexford york yorkshire
"""
NAMES = frozenset(_NAMES.split())

#: Words of other languages by which a no, or what is private, is known though all about it is English; Latin letters.
_FOREIGN = """
alsjeblieft apagar aucun aucune bitte borrar dame danke degil değil ej geen geheim gracias grazie hayir hayır iie ikke
inte jamais jamas jamás kein keine keinen keinesfalls kérem loeschen löschen lütfen mai merci molq molya nada nahi
nahiin nahin naka nako nao ne nedei nedejte nei nein nej nem nessuno nic nicht nichts niciodata niciodată nie niemals
niet nigdy nikdy nikoga ninguém non nooit nu nunca não obrigada obrigado pas privada privado privat privato prive
privé privée prohibido prosim prosze proszę prywatne sem senza sin soha supprimer surtout tilos vertraulich yok
"""
FOREIGN = frozenset(_FOREIGN.split())

#: After these words a name may follow.
_BEFORE_NAMES = """
above and around at author best between by called camera cheers city county credit dear east evening faithfully
from greetings hello here hi i'm in is it's love luck me morning mr mrs ms my name near north of our over place
regards sincerely skies south team telescope thank thanks the through to town truly using via village west wishes with
you yours
"""
BEFORE_NAMES = frozenset(_BEFORE_NAMES.split())

_TOPICS = """
abbey adapter aeroplane afocal afternoon airplane alarm alpine alps amazing apennines aperture apollo april arc
aristarchus astronomer astronomy astrophotography attach attached attachment attempt august automatic autostakkert
autumn backyard balcony barlow barn bay beach beautiful beginner binocular binoculars bins bird birds blowing blue
blur blurred blurry bottom bracket bridge bright brightest brightness brilliant bus called camera cameras canon car
castle cat celestron cheers chimney chimneys church city clavius clear cleared cloud clouds cloudy coast cold color
colour colourful colours comet congratulations conjunction constellation contrast copernicus crater craterlets craters
crescent crisium crop cropped curious dark darkness dawn dear december detail details dew dim dob dobson dobsonian dog
dot dusk earthshine east eastern eclipse edited editing effort enclose enclosed enjoy enjoyed evening excuse explain
explanations exposed exposure eyepiece eyepieces fantastic favourite february fence ferry field filter filters find
first floor flurries focal focus focused focusing fog foggy followed frame frames freezing friday frost frosty fuji
fun galaxy gale gap gaps garden gassendi gibbous gimp glad glow gorgeous grainy gray greetings grey grimaldi gust
hadley half halo handheld happy harbor harbour haze hazy hello helpful hi hill hills hiya hobby hope horizon hour
hours house ice icy identify imbrium improve improving inch internet iphone island iso iss january jpeg july june
jupiter jura kepler kitchen lake landing larger learn learned learning left lens lenses libration light lighthouse
lightroom limb location love lovely luck lucky lunar magic magical mak maksutov march mare maria mars mercury meteor
middle midnight minute minutes mist misty mm mobile monday month months moon moonlight moonrise moons moonset morning
mosaic mount mountain mountains mounted newbie newtonian night nights nikon noise noon north northern november oclock
october old orange orion overexpose overexposed overexposing owl panorama park peak peaks phone photoshop pier pipp
piton pixel plane planet planets plato pleiades porch practice pretty prime processed processing proud pub quarter
question rain rained raining raw ray rays red reflector refractor regards registax release remote retired ridge ridges
rille rilles ring river road roof rooftop rotated samsung satellite saturation saturday saturn scope sct sea seas
seconds seeing september serenitatis shadow shadows shaking shaky sharp sharpened sharper sharpest sharpness showers
sight skies sky skywatcher smartphone snow snowed sony sorry south southern spectacular spot spring stack stacked
stacking star stars steady storm street summer sun sunday sunrise sunset supermoon surface ta teacher telescope
telescopes terminator terrace thank thanks thankyou thursday timer tip today tonight top town tracked tracking train
tranquillitatis transparency tree trees tried tripod try tuesday turbulence turned tutorial twilight tycho upside
valley venus version versions video view viewer viewers village visible wait waited waiting walk walking wall waning
warm watch watching waxing weather webcam wednesday week weeks west western white wind window windy winter wishes
wobble wobbly wonder wonderful wondering worth wow yard year years yellow yesterday zenith zoom zoomed zwo
"""
#: Words of which one at least stands in a sentence about the Moon, the weather, the equipment, or in a greeting.
TOPICS = frozenset(_TOPICS.split())
