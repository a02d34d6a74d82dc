#include <math.h>
#include <stdio.h>
#include "core/survey.h"
#include "tests/support/necks.h"
int main(void) {setvbuf(stdout,0,_IOLBF,0);
    prng rng = prng_seeded(1);
    const char *names[]={"true","saddle","nut","slot","saddle+nut","saddle+slot","all","fret","fret+saddle+nut"};
    const char *v[]={"true","saddle","nut","slot","fret","undec"};
    for (int know=0; know<3; know++)
    for (int kind=0; kind<9; kind++) {
        int n=1000, ok[3]={0}, count[6]={0}, adequate=0, found=0, extra=0, fitslot=0; double sq[3]={0};
        for (int k=0;k<n;k++) {
            neck_string s = necks_random(&rng);
            neck_fault f = {0};
            bool D=kind==1||kind==4||kind==5||kind==6||kind==8, N=kind==2||kind==4||kind==6||kind==8, H=kind==3||kind==5||kind==6;
            if (D) f.saddle_mm = prng_uniform(&rng,-3,3);
            if (N) f.nut_mm = prng_uniform(&rng,-1,1);
            if (H) f.slot_mm = prng_uniform(&rng,0.2,0.8);
            if (kind>=7) { f.bad_fret=necks_default_frets[prng_next(&rng)%9]; f.bad_cents = prng_next(&rng)&1?3:-3; }
            sb_survey_reading r[9];
            for (int i=0;i<9;i++) { int fr=necks_default_frets[i];
                r[i]=(sb_survey_reading){fr,100.0*fr,necks_error_cents(&s,&f,fr)+0.2*prng_normal(&rng),0.2,1};}
            sb_survey_options o={{s.scale_mm,SB_GOOD_SLOT_MM,sb_neck_saddle_height_mm(SB_ACTION_MM,SB_GOOD_SLOT_MM)},sb_kappa_unknown(false),0,0,1};
            if (know>=1) { o.kappa=(sb_kappa){s.kappa,1.05}; o.neck.saddle_mm=s.saddle_height_mm; o.neck.good_slot_mm=s.slot_mm; }
            if (know>=2) { o.slot_std_error_mm=.02; o.slot_mm=fmax(f.slot_mm+.02*prng_normal(&rng),-.9*s.slot_mm); }
            sb_survey out;
            if (sb_survey_string(r,9,&o,&out)!=SB_OK) { printf("fail\n"); continue; }
            double t[3]={f.saddle_mm,f.nut_mm,f.slot_mm}; double lim[3]={.1,.1,.03};
            for(int p=0;p<3;p++){ double e=out.excess_mm[p]-t[p]; sq[p]+=e*e; ok[p]+=fabs(e)<=lim[p]; }
            count[out.verdict]++; adequate+=out.adequate; fitslot+=out.fitted[2];
            for(int i=0;i<9;i++) if(out.bad[i]) { if(r[i].fret==f.bad_fret) found++; else extra++; }
        }
        printf("%d %-16s ok %5.1f %5.1f %5.1f rms %.3f %.3f %.3f  adeq %.1f found %.1f extra %.1f slotfit %.1f |",know,names[kind],100.*ok[0]/n,100.*ok[1]/n,100.*ok[2]/n,sqrt(sq[0]/n),sqrt(sq[1]/n),sqrt(sq[2]/n),100.*adequate/n,100.*found/n,100.*extra/n,100.*fitslot/n);
        for(int c=0;c<6;c++) printf(" %s %.1f",v[c],100.*count[c]/n);
        printf("\n");
    }
}
