"""Towns as Hindi, Marathi and Nepali write them, of each country: in Latin letters first, the usual spelling first.

GeoNames has many of them in no Indian script. Sounds alone (`sounds`) would tell many of them from no other town, and take a word of the language for one.
"""

LISTED = """
IN:
Satna सतना
Rewa रीवा
Gwalior ग्वालियर
Ujjain उज्जैन
Indore इंदौर इन्दौर
Bhopal भोपाल
Jabalpur जबलपुर
Chhindwara छिंदवाड़ा छिन्दवाड़ा
Mandsaur मंदसौर
Neemuch Nimach नीमच
Ratlam रतलाम
Dewas देवास
Hoshangabad होशंगाबाद
Narmadapuram Hoshangabad नर्मदापुरम
Khandwa खंडवा
Burhanpur बुरहानपुर
Vidisha विदिशा
Shivpuri शिवपुरी
Guna गुना
Morena मुरैना
Bhind भिंड भिण्ड
Datia दतिया
Katni Murwara कटनी
Shahdol शहडोल
Sidhi सीधी
Singrauli सिंगरौली
Damoh दमोह
Panna पन्ना
Chhatarpur छतरपुर
Tikamgarh टीकमगढ़
Khajuraho खजुराहो
Orchha ओरछा
Pachmarhi पचमढ़ी
Balaghat बालाघाट
Seoni सिवनी
Betul बैतूल
Jhabua झाबुआ
Mandu Mandav मांडू मांडव
Maheshwar महेश्वर
Raipur रायपुर
Bilaspur बिलासपुर
Durg दुर्ग
Bhilai भिलाई
Korba कोरबा
Raigarh रायगढ़
Jagdalpur जगदलपुर
Ambikapur अंबिकापुर अम्बिकापुर
Dhamtari धमतरी
Kanker कांकेर
Jodhpur जोधपुर
Jaipur जयपुर
Udaipur उदयपुर
Kota कोटा
Bikaner बीकानेर
Ajmer अजमेर
Pushkar पुष्कर
Alwar अलवर
Bharatpur भरतपुर
Jaisalmer जैसलमेर
Barmer बाड़मेर
Sikar सीकर
Churu चूरू
Jhunjhunu Jhunjhunun झुंझुनू झुंझुनूं
Nagaur नागौर
Bhilwara भीलवाड़ा
Chittorgarh Chittaurgarh चित्तौड़गढ़ चित्तौड़
Bundi बूंदी बूँदी
Jhalawar झालावाड़
Banswara बांसवाड़ा बाँसवाड़ा
Dungarpur डूंगरपुर डूँगरपुर
Sirohi सिरोही
Mount_Abu माउंट_आबू
Tonk टोंक
Dausa दौसा
Karauli करौली
Dholpur Dhaulpur धौलपुर
Hanumangarh हनुमानगढ़
Ganganagar श्रीगंगानगर गंगानगर
Sawai_Madhopur सवाई_माधोपुर
Delhi दिल्ली
New_Delhi नई_दिल्ली
Noida नोएडा
Ghaziabad गाजियाबाद ग़ाज़ियाबाद
Gurgaon गुड़गांव गुड़गाँव
Gurugram Gurgaon गुरुग्राम
Faridabad फरीदाबाद फ़रीदाबाद
Rohtak रोहतक
Hisar हिसार
Karnal करनाल
Panipat पानीपत
Sonipat सोनीपत
Ambala अंबाला अम्बाला
Kurukshetra Thanesar कुरुक्षेत्र
Rewari रेवाड़ी
Bhiwani भिवानी
Jind जींद
Sirsa सिरसा
Yamunanagar Yamuna_Nagar यमुनानगर
Panchkula पंचकूला
Chandigarh चंडीगढ़ चण्डीगढ़
Amritsar अमृतसर
Ludhiana लुधियाना
Jalandhar जालंधर
Patiala पटियाला
Bathinda बठिंडा
Pathankot पठानकोट
Firozpur फिरोजपुर फ़िरोज़पुर
Shimla शिमला
Mandi मंडी
Kullu कुल्लू
Manali मनाली
Dharamshala Dharmsala धर्मशाला
Solan सोलन
Kasauli कसौली
Chamba चंबा चम्बा
Dalhousie डलहौजी
Palampur पालमपुर
Una ऊना
Jammu जम्मू
Srinagar श्रीनगर
Leh लेह
Kargil कारगिल
Udhampur ऊधमपुर उधमपुर
Kathua कठुआ
Dehradun Dehra_Dun देहरादून
Nainital Naini_Tal नैनीताल
Almora अल्मोड़ा
Ranikhet रानीखेत
Pithoragarh पिथौरागढ़
Haldwani हल्द्वानी
Haridwar हरिद्वार
Rishikesh ऋषिकेश
Mussoorie मसूरी
Roorkee रुड़की
Rudrapur रुद्रपुर
Kashipur काशीपुर
Kotdwar Kotdwara कोटद्वार
Pauri पौड़ी
Tehri New_Tehri टिहरी
Uttarkashi उत्तरकाशी
Joshimath जोशीमठ
Bageshwar बागेश्वर
Champawat चंपावत चम्पावत
Lansdowne लैंसडाउन
Lucknow लखनऊ
Kanpur कानपुर
Agra आगरा
Mathura मथुरा
Vrindavan वृंदावन वृन्दावन
Aligarh अलीगढ़
Meerut मेरठ
Moradabad मुरादाबाद
Bareilly बरेली
Shahjahanpur शाहजहांपुर शाहजहाँपुर
Pilibhit पीलीभीत
Rampur रामपुर
Bijnor बिजनौर
Saharanpur सहारनपुर
Muzaffarnagar मुजफ्फरनगर मुज़फ़्फ़रनगर
Hapur हापुड़
Bulandshahr बुलंदशहर
Etawah इटावा
Etah एटा
Mainpuri मैनपुरी
Firozabad फिरोजाबाद फ़िरोज़ाबाद
Farrukhabad फर्रुखाबाद
Kannauj कन्नौज
Hardoi हरदोई
Sitapur सीतापुर
Lakhimpur लखीमपुर
Unnao उन्नाव
Raebareli Rae_Bareli रायबरेली
Sultanpur सुल्तानपुर
Prayagraj Allahabad प्रयागराज
Allahabad Prayagraj इलाहाबाद
Varanasi वाराणसी
Banaras Varanasi बनारस
Kashi Varanasi काशी
Mirzapur मिर्जापुर मिर्ज़ापुर
Jaunpur जौनपुर
Ghazipur गाजीपुर ग़ाज़ीपुर
Ballia बलिया
Azamgarh आजमगढ़ आज़मगढ़
Mau मऊ
Gorakhpur गोरखपुर
Deoria देवरिया
Kushinagar कुशीनगर
Basti बस्ती
Gonda गोंडा
Bahraich बहराइच
Ayodhya अयोध्या
Faizabad फैजाबाद फ़ैज़ाबाद
Jhansi झांसी झाँसी
Lalitpur ललितपुर
Banda बांदा बाँदा
Chitrakoot चित्रकूट
Orai उरई
Mahoba महोबा
Sonbhadra Robertsganj सोनभद्र
Patna पटना
Gaya गया
Bodh_Gaya बोधगया
Nalanda Bihar_Sharif नालंदा
Rajgir राजगीर
Muzaffarpur मुजफ्फरपुर मुज़फ़्फ़रपुर
Darbhanga दरभंगा
Bhagalpur भागलपुर
Purnia पूर्णिया
Katihar कटिहार
Saharsa सहरसा
Madhubani मधुबनी
Samastipur समस्तीपुर
Begusarai बेगूसराय
Munger मुंगेर
Chapra छपरा
Siwan सीवान
Gopalganj गोपालगंज
Motihari मोतिहारी
Bettiah बेतिया
Hajipur हाजीपुर
Ara Arrah आरा
Buxar बक्सर
Sasaram सासाराम
Jehanabad जहानाबाद
Nawada नवादा
Jamui जमुई
Ranchi रांची राँची
Jamshedpur जमशेदपुर
Dhanbad धनबाद
Bokaro बोकारो
Hazaribagh Hazaribag हजारीबाग हज़ारीबाग
Deoghar देवघर
Giridih गिरिडीह
Dumka दुमका
Gumla गुमला
Netarhat नेतरहाट
Palamu Daltonganj पलामू
Chaibasa चाईबासा
Kolkata कोलकाता
Darjeeling दार्जिलिंग
Siliguri सिलीगुड़ी
Gangtok गंगटोक
Guwahati गुवाहाटी
Shillong शिलांग
Bhubaneswar भुवनेश्वर
Cuttack कटक
Rourkela राउरकेला
Sambalpur संबलपुर
Puri पुरी
Ahmedabad Ahmadabad अहमदाबाद
Surat सूरत
Vadodara वडोदरा बड़ौदा
Rajkot राजकोट
Jamnagar जामनगर
Bhavnagar भावनगर
Bhuj भुज
Junagadh जूनागढ़
Dwarka द्वारका
Gandhinagar गांधीनगर गाँधीनगर
Hyderabad हैदराबाद
Bengaluru Bangalore बेंगलुरु बेंगळुरू बंगळुरू बंगलौर बेंगलूर
Mysuru Mysore मैसूर म्हैसूर
Chennai चेन्नई
Belgaum Belagavi बेळगाव बेलगाम
Hubli हुबळी हुबली
Karwar कारवार
Bidar बिदर बीदर
Kalaburagi Gulbarga गुलबर्गा
Panaji पणजी
Margao Madgaon मडगाव
Mapusa म्हापसा
Vasco_da_Gama वास्को
Mumbai मुंबई मुम्बई
Thane ठाणे
Kalyan कल्याण
Dombivli Dombivali डोंबिवली
Ulhasnagar उल्हासनगर
Ambernath Ambarnath अंबरनाथ
Badlapur बदलापूर
Karjat कर्जत
Panvel पनवेल
Navi_Mumbai नवी_मुंबई
Virar विरार
Palghar पालघर
Dahanu डहाणू
Jawhar जव्हार
Bhiwandi भिवंडी
Alibag अलिबाग
Pen पेण
Mahad महाड
Roha रोहा
Murud मुरूड
Shrivardhan श्रीवर्धन
Matheran माथेरान
Lonavala Lonavla लोणावळा लोनावळा
Khopoli खोपोली
Pune पुणे पुना
Pimpri पिंपरी
Chinchwad Pimpri चिंचवड
Baramati बारामती
Junnar जुन्नर
Bhor भोर
Daund दौंड
Indapur इंदापूर
Shirur शिरूर
Satara सातारा
Karad कराड कऱ्हाड
Wai वाई
Mahabaleshwar महाबळेश्वर
Panchgani Panchgani पाचगणी
Phaltan फलटण
Koregaon कोरेगाव
Patan पाटण
Sangli सांगली
Miraj Sangli मिरज
Tasgaon तासगाव
Islampur Uran_Islampur इस्लामपूर
Vita विटा
Kolhapur कोल्हापूर
Ichalkaranji इचलकरंजी
Gadhinglaj गडहिंग्लज
Kagal कागल
Panhala पन्हाळा
Jaysingpur जयसिंगपूर
Ratnagiri रत्नागिरी
Chiplun चिपळूण
Khed खेड
Dapoli दापोली
Guhagar गुहागर
Rajapur राजापूर
Malvan मालवण
Sawantwadi Savantvadi सावंतवाडी
Kudal कुडाळ
Kankavli कणकवली
Vengurla वेंगुर्ला
Solapur Sholapur सोलापूर
Pandharpur पंढरपूर
Barshi बार्शी
Sangola सांगोला
Karmala करमाळा
Nashik नाशिक
Malegaon मालेगाव
Igatpuri इगतपुरी
Sinnar सिन्नर
Manmad मनमाड
Yeola येवला
Trimbak त्र्यंबक त्र्यंबकेश्वर
Satana सटाणा
Ahmednagar अहमदनगर
Ahilyanagar Ahmednagar अहिल्यानगर
Shirdi शिर्डी
Sangamner संगमनेर
Shrirampur श्रीरामपूर
Kopargaon कोपरगाव
Rahuri राहुरी
Akole अकोले
Jalgaon जळगाव
Bhusawal Bhusaval भुसावळ
Chalisgaon चाळीसगाव
Amalner अमळनेर
Pachora पाचोरा
Dhule धुळे
Nandurbar नंदुरबार
Shirpur शिरपूर
Shahada शहादा
Chhatrapati_Sambhajinagar Aurangabad छत्रपती_संभाजीनगर संभाजीनगर
Paithan पैठण
Jalna जालना
Parbhani परभणी
Hingoli हिंगोली
Nanded नांदेड
Latur लातूर
Udgir उदगीर
Dharashiv Osmanabad धाराशिव उस्मानाबाद
Tuljapur तुळजापूर
Beed Bir बीड
Ambajogai अंबाजोगाई आंबेजोगाई
Parli परळी
Majalgaon माजलगाव
Khamgaon खामगाव
Shegaon शेगाव
Chikhli चिखली
Mehkar मेहकर
Lonar लोणार
Malkapur मलकापूर
Akola अकोला
Akot अकोट
Washim वाशिम
Karanja कारंजा
Amravati अमरावती
Achalpur अचलपूर
Chikhaldara चिखलदरा
Daryapur दर्यापूर
Yavatmal यवतमाळ
Pusad पुसद
Wardha वर्धा
Hinganghat हिंगणघाट
Arvi आर्वी
Nagpur नागपूर नागपुर
Ramtek रामटेक
Katol काटोल
Kamptee Kamthi कामठी
Umred उमरेड
Bhandara भंडारा
Gondia Gondiya गोंदिया
Tumsar तुमसर
Chandrapur चंद्रपूर
Ballarpur Ballalpur बल्लारपूर
Warora वरोरा
Gadchiroli गडचिरोली
Mandla मंडला
Narsinghpur नरसिंहपुर
Sehore सीहोर
Raisen रायसेन
Itarsi इटारसी
Sagar सागर
Omkareshwar ओंकारेश्वर
Kavaratti कवरत्ती
Thiruvananthapuram Trivandrum तिरुवनंतपुरम
Kochi Cochin कोच्चि कोची
Madurai मदुरै
Coimbatore कोयंबटूर
Vijayawada विजयवाड़ा
Visakhapatnam विशाखापट्टनम
Tirupati तिरुपति
Warangal वारंगल
Secunderabad सिकंदराबाद
Nizamabad निजामाबाद
Imphal इंफाल इम्फाल
Kohima कोहिमा
Agartala अगरतला
Aizawl आइजोल
Itanagar ईटानगर
Port_Blair पोर्ट_ब्लेयर
Kharagpur खड़गपुर
Asansol आसनसोल
Durgapur दुर्गापुर
Howrah हावड़ा
NP:
Kathmandu काठमांडू काठमाडौं काठमांडौ
Pokhara पोखरा
Birgunj Birganj बीरगंज
Biratnagar विराटनगर
Janakpur जनकपुर
Nepalgunj Nepalganj नेपालगंज
GB:
London लंदन लंडन
Leicester लेस्टर
Birmingham बर्मिंघम बर्मिंगहॅम
Manchester मैनचेस्टर मँचेस्टर
Edinburgh एडिनबर्ग
Glasgow ग्लासगो
US:
New_York_City New_York न्यूयॉर्क न्यूयार्क
Chicago शिकागो
Houston ह्यूस्टन
San_Francisco सैन_फ्रांसिस्को सॅन_फ्रान्सिस्को
Boston बोस्टन बॉस्टन
Seattle सिएटल
Dallas डलास डॅलस
Atlanta अटलांटा
CA:
Toronto टोरंटो
Vancouver वैंकूवर व्हँकुव्हर
Brampton ब्रैम्पटन
AE:
Dubai दुबई
Abu_Dhabi अबू_धाबी
Sharjah शारजाह शारजा
QA:
Doha दोहा
AU:
Sydney सिडनी
Melbourne मेलबर्न
SG:
Singapore सिंगापुर सिंगापूर
DE:
Berlin बर्लिन
Munich म्यूनिख म्युनिक
Stuttgart स्टुटगार्ट
FR:
Paris पेरिस पॅरिस
JP:
Tokyo टोक्यो
MU:
Port_Louis पोर्ट_लुईस
"""
