/** What a field may be, before zones and axes are distinguished. */
export type Kind =
  | 'diameter'
  | 'temperature'
  | 'setpoint'
  | 'power'
  | 'fault'
  | 'speed'
  | 'length'
  | 'screw'
  | 'current'
  | 'pressure'
  | 'turns'
  | 'room'
  | 'humidity'
  | 'uptime'
  | 'number';

/**
 * Parts of names that sketches use, without accents, and how strongly each suggests a kind: 3 is enough on its own, 1 only
 * supports what the values suggest. English first, then German, Spanish, French, Italian, Portuguese, Dutch, Polish, Czech, Swedish,
 * Danish, Norwegian, Finnish, Turkish, Hungarian, Romanian, Russian, Greek, Japanese,
 * Korean and Chinese. Common practice, no source.
 */
export const WORD_WEIGHTS: Readonly<Record<Kind, Readonly<Record<string, number>>>> = {
  diameter: weightedWords(
    3,
    'dia diam diameter thickness caliper dx dy durchmesser dmr dicke diametro grosor espesor diametre epaisseur spessore',
    3,
    'espessura dikte srednica grubosc prumer tloustka tjocklek диаметр толщина 直径 线径 線径 外径 직경 선경 지름 διαμετρος',
    3,
    'halkaisija paksuus kalinlik kalınlık tykkelse atmero vastagsag diametru grosime',
    2,
    'd gauge width breite ancho largeur larghezza largura breedte szerokosc sirka bredd leveys cap ширина',
    1,
    'w fil filament mess adc hall raw x y filamento draad филамент',
  ),
  temperature: weightedWords(
    3,
    'temp temps tmp temperature temperatur temperatura temperatuur teplota температура темп 温度 온도 θερμοκρασια',
    3,
    'lampotila sicaklik sıcaklık homerseklet',
    2,
    't thermistor thermo thermocouple ntc tc pt celsius lampo',
    1,
    'zone zones z hot hotend nozzle noz die melt barrel heater heat feed c deg h e b bed th pv ist actual',
    1,
    'duse heizung heizzone zylinder zona boquilla calentador cuerpo corps buse filiere chauffe ugello corpo cilindro testa',
    1,
    'bico aquecedor mondstuk spuitmond verwarming dysza strefa grzalka tryska zona munstycke zon зона сопло нагреватель',
    1,
    'suutin vyohyke nozul isitici ısıtıcı dyse sone fuvoka duza',
  ),
  setpoint: weightedWords(
    4,
    'set setpoint setpt sp sv target tgt targ goal soll sollwert vorgabe obj objetivo consigna consigne cible',
    4,
    'obiettivo riferimento setpunkt alvo doel streef zadana cil zadano borvarde mal уставка задание цель 設定 设定 目標 目标 설정 목표 στοχος',
    4,
    'tavoite asetus asetusarvo hedef ayar sollverdi celertek tinta',
    3,
    '/',
    2,
    's rif',
    1,
    'ref want des desired wunsch',
  ),
  power: weightedWords(
    4,
    'pwm duty cv',
    3,
    'power pow pwr pw leistung potencia puissance potenza vermogen moc vykon effekt мощность нагрев шим stellwert 出力 輸出 输出 電力 功率 출력 ισχυς',
    3,
    'teho guc teljesitmeny putere',
    2,
    'p out output pct @ mv heizleistung stell stellgrad warmte',
    1,
    'heater heat heizung chauffe drive percent q salida sortie uscita',
  ),
  fault: weightedWords(
    3,
    'fault faults error err fehler storung fallo defaut errore erro fout blad chyba fel ошибка',
    1,
    'flag flags f',
  ),
  speed: weightedWords(
    3,
    'speed spd vel velocity feedrate mps fpm geschwindigkeit velocidad vitesse velocita velocidade snelheid predkosc',
    3,
    'rychlost hastighet hastighed nopeus hiz hız sebesseg viteza скорость 速度 속도 ταχυτητα',
    2,
    'v pull puller abzug tiro tirage traino puxador trekker wyciag tah drag veto cekme cekis вытяжка протяжка',
    1,
    'rate haul',
  ),
  length: weightedWords(
    3,
    'len length metres meters meter metre lange laenge longitud longueur metri lunghezza comprimento metros lengte',
    3,
    'dlugosc metry delka langd laengde lengde pituus uzunluk hossz lungime длина метраж 長さ 长度',
    2,
    'dist distance total spooled wound',
    1,
    'l m mm pos',
  ),
  screw: weightedWords(
    4,
    'rpm upm',
    3,
    'screw auger schnecke tornillo husillo vis vite coclea rosca fuso schroef vijzel slimak snek skruv skrue ruuvi vida csiga melc шнек',
    1,
    'motor mot drehzahl extruder regime giri obroty otacky varv обороты',
  ),
  current: weightedWords(
    3,
    'amp amps current ampere strom corriente courant corrente stroom prad proud virta akim akım ток',
    2,
    'a',
    1,
    'i ma load',
  ),
  pressure: weightedWords(
    3,
    'bar press pressure druck presion pression pressione pressao druk cisnienie tlak tryck trykk paine basinc basınc nyomas presiune давление',
  ),
  turns: weightedWords(
    3,
    'turns turn windungen revs revolutions rotations umdrehungen vueltas tours spire voltas windingen zwoje zavity varv витки',
    1,
    'winder spool rev',
  ),
  room: weightedWords(
    4,
    'ambient amb room raum umgebung env ta ambiente ambiante kamer otoczenie okoli rum комната',
    2,
    'case board air luft',
  ),
  humidity: weightedWords(
    3,
    'rh hum humidity feuchte humedad humidite umidita umidade vocht wilgotnosc vlhkost fukt влажность',
  ),
  uptime: weightedWords(
    3,
    'ms millis uptime us micros',
    2,
    'time zeit tiempo temps tempo tijd czas cas tid aika zaman ido timp время ts timestamp tick ticks',
    1,
    'sec secs seconds t s',
  ),
  number: weightedWords(
    3,
    'seq line nr count counter cnt cpt compteur zahler contador contatore licznik idx frame sample',
    2,
    'n no',
    1,
    'i id',
  ),
};

/** A name with one of these stands for a limit, a spread, a fan or a tuning parameter, never for a signal of the line. */
export const NON_SIGNAL_WORDS: ReadonlySet<string> = new Set(
  [
    'min max minimum maximum limit lim tol tolerance toleranz nominal nom std stddev sigma dev deviation noise ± offset',
    'oval ovality roundness fan fans lufter ventilador ventilateur ventola ventilator wentylator flakt вентилятор cooler',
    'kp ki kd gain integral battery vcc vin rssi heap free done progress',
  ].flatMap((line) => line.split(' ')),
);

/** Words that rule out one kind only: a puller and a winder also turn, but are not screws, and revolutions are not a strand speed. */
export const EXCLUDING_WORDS: Readonly<Partial<Record<Kind, ReadonlySet<string>>>> = {
  screw: new Set('puller pull abzug haul winder spool roller wickler spule tiro tirage traino pump'.split(' ')),
  speed: new Set(['rpm', 'upm']),
  length: new Set('left remaining rest'.split(' ')),
};

/** Without accents, and letters taken apart. */
export function asCompared(text: string): string {
  return text.normalize('NFKD').replaceAll(/\p{M}/gu, '');
}

function weightedWords(...groups: readonly (number | string)[]): Readonly<Record<string, number>> {
  const found: Record<string, number> = {};
  for (let i = 0; i < groups.length; i += 2)
    for (const word of String(groups[i + 1]).split(' ')) found[asCompared(word)] = Number(groups[i]);
  return found;
}
